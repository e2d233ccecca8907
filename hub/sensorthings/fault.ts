/** A request that cannot be answered as asked: what was expected and what came, and the HTTP status for it. */
export class StaFault extends Error {
  override readonly name = 'StaFault'
  readonly status: 400 | 404 | 501

  constructor(status: 400 | 404 | 501, message: string) {
    super(message)
    this.status = status
  }
}

export const badRequest = (message: string): StaFault => new StaFault(400, message)
export const notOffered = (message: string): StaFault => new StaFault(501, message)
