/** As much of an OpenAPI 3.1 document as is worked with here. */
export interface Schema {
  readonly [keyword: string]: unknown
}
export interface Parameter {
  readonly name: string
  readonly in: 'path' | 'query' | 'header' | 'cookie'
  readonly required?: boolean
  readonly description?: string
  readonly schema?: Schema
}
export interface Media {
  readonly schema?: Schema
  readonly example?: unknown
}
export interface Body {
  readonly description?: string
  readonly required?: boolean
  readonly content?: Readonly<Record<string, Media>>
}
export interface Operation {
  readonly operationId?: string
  readonly summary?: string
  readonly description?: string
  readonly tags?: readonly string[]
  readonly parameters?: readonly Parameter[]
  readonly requestBody?: Body
  readonly responses: Readonly<Record<string, Body>>
  readonly security?: readonly Readonly<Record<string, readonly string[]>>[]
}
export interface Document {
  readonly openapi: string
  readonly info: { readonly title: string; readonly version: string; readonly description?: string }
  readonly servers?: readonly { readonly url: string; readonly description?: string }[]
  readonly tags?: readonly { readonly name: string; readonly description: string }[]
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>
  readonly components: {
    readonly schemas?: Readonly<Record<string, Schema>>
    readonly securitySchemes?: Readonly<Record<string, Schema>>
  }
}
