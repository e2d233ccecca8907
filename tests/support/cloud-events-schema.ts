import { Ajv } from 'ajv'

/**
 * What CloudEvents 1.0 demands of an event in JSON, written as JSON Schema (draft 7) after the schema that CNCF publishes
 * with the specification ('CloudEvents Specification JSON Schema', v1.0.2, 2022), and after its section 3.1: names of
 * attributes are small letters and digits, `specversion` is '1.0', `data` and `data_base64` exclude each other.
 */
const CLOUD_EVENT = {
  type: 'object',
  required: ['id', 'source', 'specversion', 'type'],
  properties: {
    id: { type: 'string', minLength: 1 },
    source: { type: 'string', minLength: 1, format: 'uri-reference' },
    specversion: { const: '1.0' },
    type: { type: 'string', minLength: 1 },
    datacontenttype: { type: ['string', 'null'], minLength: 1 },
    dataschema: { type: ['string', 'null'], minLength: 1, format: 'uri' },
    subject: { type: ['string', 'null'], minLength: 1 },
    time: { type: ['string', 'null'], minLength: 1, format: 'date-time' },
    data: { type: ['object', 'string', 'number', 'array', 'boolean', 'null'] },
    data_base64: { type: ['string', 'null'], pattern: '^[A-Za-z0-9+/]*={0,2}$' },
  },
  propertyNames: { pattern: '^([a-z0-9]+|data_base64)$' },
  // Extension attributes hold plain values.
  additionalProperties: { type: ['string', 'number', 'boolean'] },
  not: { required: ['data', 'data_base64'] },
} as const

const ajv = new Ajv({
  allowUnionTypes: true,
  formats: {
    uri: (text: string) => URL.canParse(text),
    'uri-reference': (text: string) => URL.canParse(text, 'http://base.example/'),
    // RFC 3339, 5.6.
    'date-time': (text: string) =>
      /^\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)$/.test(text) &&
      !Number.isNaN(Date.parse(text)),
  },
})
const validate = ajv.compile(CLOUD_EVENT)

/** What is wrong with an event; empty when it is one of CloudEvents 1.0. */
export function cloudEventFaults(event: unknown): string[] {
  return validate(event)
    ? []
    : (validate.errors ?? []).map(({ instancePath, message }) => `${instancePath} ${message ?? ''}`)
}
