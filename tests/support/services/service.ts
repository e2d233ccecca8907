/** How services are run: in containers of an engine, or as programs installed on this machine. */
export type Backend = 'containers' | 'processes'

/** A real broker or database of one test, on 127.0.0.1. It ends, with its data, when it is disposed of. */
export interface Service extends AsyncDisposable {
  readonly backend: Backend
  readonly host: '127.0.0.1'
  /** The same over stop, kill and start. */
  readonly port: number
  /** Brings it back with its data; resolves when it answers its own protocol. */
  start(): Promise<void>
  /** Ends it the polite way; its data stay. */
  stop(): Promise<void>
  /** SIGKILL; its data stay as they are at that moment. */
  kill(): Promise<void>
  /** It answers nothing any more, while its connections stay open. */
  freeze(): Promise<void>
  thaw(): Promise<void>
  /** Makes it read its files again (SIGHUP). */
  hangUp(): Promise<void>
  /** Everything it wrote so far. */
  log(): Promise<string>
}
