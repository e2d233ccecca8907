import fc from 'fast-check'
import { parser } from 'mqtt-packet'
import type { IPublishPacket } from 'mqtt-packet'
import { expect, test } from 'vitest'
import { publishPackets } from '#hub/ingest/publish-packets.ts'

const message = fc.record({
  topic: fc.constantFrom('lm1/row1/dn/ack', 'lm1/row1/dn/time', 'grün/x'),
  payload: fc.string({ unit: 'binary', maxLength: 20_000 }),
  retain: fc.boolean(),
})

test.each([4, 5] as const)('another reader of MQTT %i reads what was written', (version) => {
  fc.assert(
    fc.property(fc.array(message, { maxLength: 5 }), (messages) => {
      const read: IPublishPacket[] = []
      const reader = parser({ protocolVersion: version })
      reader.on('packet', (packet) => read.push(packet as IPublishPacket))
      reader.parse(publishPackets(messages, version))
      expect(
        read.map(({ topic, payload, retain, qos }) => [topic, payload.toString(), retain, qos]),
      ).toEqual(
        messages.map(({ topic, payload, retain }) => [
          topic,
          Buffer.from(payload).toString(),
          retain,
          0,
        ]),
      )
    }),
  )
})
