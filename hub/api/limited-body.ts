import { say } from '../words/say.ts'
import { ApiProblem } from './problem.ts'

/** The bytes of a body as they come, up to a limit. */
export async function* limited(
  body: unknown,
  most: number,
  tooLarge: () => string,
): AsyncGenerator<Uint8Array> {
  let bytes = 0
  try {
    for await (const piece of body as AsyncIterable<Buffer>) {
      bytes += piece.length
      if (bytes > most) throw new ApiProblem(413, tooLarge())
      yield piece
    }
  } catch (error) {
    if (error instanceof ApiProblem) throw error
    // A page that is closed, or a line that breaks in the middle of a file, is no mistake of the hub.
    throw new ApiProblem(400, say`expected the whole file, it broke off after ${bytes} bytes`)
  }
}
