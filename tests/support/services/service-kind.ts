/** What a service is, whichever way it is run. */
export interface ServiceKind {
  readonly name: string
  /** Image for an engine. */
  readonly image: string
  /** Its port inside a container. */
  readonly innerPort: number
  /** Name of the program. */
  readonly program: string
  /** How it is set up in a place: where its data and files lie, and where it listens. */
  setUp(place: Place): SetUp
  /** Whether it answers its own protocol there; false, not an error, while it does not. */
  answers(port: number): Promise<boolean>
}

export interface Place {
  /** Folder for data and files, absolute, without a slash at its end. */
  readonly folder: string
  readonly address: string
  readonly port: number
  /** It starts as root and has to say as whom it goes on. */
  readonly asRoot: boolean
}

export interface SetUp {
  readonly args: readonly string[]
  readonly env: Readonly<Record<string, string>>
  /** Content by absolute path. */
  readonly files: Readonly<Record<string, string>>
}
