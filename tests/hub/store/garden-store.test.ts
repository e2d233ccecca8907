import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import type { Alarm, AlarmStep } from '#hub/model/alarm.ts'
import type { NewJournalEntry } from '#hub/model/journal.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { GardenStore, NewBed } from '#hub/store/garden-store.ts'
import { openGardenStore } from '#hub/store/sqlite/open-garden-store.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const onDeath = (error: Error): never => {
  throw error
}

let folder: ReturnType<typeof tempDir>
let garden: GardenStore
const open = (zone: string): Promise<GardenStore> =>
  openGardenStore(join(folder.path, 'garden.db'), zone, { onDeath })

beforeEach(async () => {
  folder = tempDir()
  garden = await open('Europe/Vienna')
})
afterEach(async () => {
  await garden.close()
  folder[Symbol.dispose]()
})

const newBed = (some: Partial<NewBed> = {}): NewBed => ({
  name: 'North bed',
  areaM2: 2.4,
  depthM: 0.3,
  texture: 'loam',
  crops: ['tomato', 'basil'],
  ownBand: null,
  ...some,
})

test('a new garden takes the zone it is opened with, and keeps what it is changed to', async () => {
  expect(await garden.garden()).toEqual({
    name: 'My garden',
    zone: 'Europe/Vienna',
    units: 'metric',
    language: 'en',
  })
  const changed = { name: 'Hillside', zone: 'America/Boise', units: 'us', language: 'de' } as const
  expect(await garden.setGarden(changed)).toEqual(changed)
  await garden.close()
  garden = await open('UTC')
  expect(await garden.garden()).toEqual(changed)
})

describe('beds', () => {
  test('come last, are changed whole, and are listed by rank', async () => {
    const first = await garden.addBed(newBed(), 1000)
    expect(first).toEqual({ ...newBed(), id: first.id, rank: 1, createdAt: 1000, retiredAt: null })
    const second = await garden.addBed(newBed({ name: 'A bed' }), 2000)
    expect(second.rank).toBe(2)
    const next = newBed({ name: 'South', ownBand: { low: 5.5, high: 6.25 }, crops: [] })
    expect(await garden.changeBed(first.id, next)).toEqual({ ...first, ...next })
    expect(await garden.bed(first.id)).toEqual({ ...first, ...next })
    expect((await garden.beds()).map(({ id }) => id)).toEqual([first.id, second.id])
    expect(await garden.bed(99)).toBeNull()
    expect(await garden.changeBed(99, next)).toBeNull()
  })

  test('retire with their placements and stay in the long list, last', async () => {
    const old = await garden.addBed(newBed(), 0)
    const other = await garden.addBed(newBed(), 0)
    const [a, b] = [await garden.addSpot(old.id, 'a'), await garden.addSpot(other.id, 'b')]
    for (const probe of ['row1', 'row2', 'row3']) await garden.adoptProbe(probe, probe, 0)
    await garden.placeProbe('row1', a?.id ?? 0, 100)
    await garden.placeProbe('row2', b?.id ?? 0, 100)
    await garden.placeProbe('row3', a?.id ?? 0, 900)
    expect(await garden.retireBed(old.id, 500)).toMatchObject({ retiredAt: 500 })
    expect(await garden.retireBed(old.id, 700)).toMatchObject({ retiredAt: 500 })
    expect(await garden.retireBed(99, 500)).toBeNull()
    expect(await garden.placements()).toMatchObject([
      { probe: 'row1', from: 100, to: 500 },
      { probe: 'row2', from: 100, to: null },
    ])
    expect((await garden.beds()).map(({ id }) => id)).toEqual([other.id])
    expect((await garden.beds({ retired: true })).map(({ id }) => id)).toEqual([other.id, old.id])
    expect((await garden.addBed(newBed(), 0)).rank).toBe(3)
  })

  test('hold spots, which go only when no probe ever sat there', async () => {
    const bed = await garden.addBed(newBed(), 0)
    const used = await garden.addSpot(bed.id, 'left')
    const free = await garden.addSpot(bed.id, 'right')
    expect(used).toEqual({ id: used?.id, bedId: bed.id, name: 'left' })
    expect(await garden.addSpot(99, 'nowhere')).toBeNull()
    expect(await garden.renameSpot(free?.id ?? 0, 'far right')).toMatchObject({ name: 'far right' })
    expect(await garden.renameSpot(99, 'x')).toBeNull()
    await garden.adoptProbe('row1', 'Row one', 0)
    await garden.placeProbe('row1', used?.id ?? 0, 10)
    await garden.placeProbe('row1', null, 20)
    expect(await garden.removeSpot(used?.id ?? 0)).toBe('in use')
    expect(await garden.removeSpot(free?.id ?? 0)).toBe('removed')
    expect(await garden.removeSpot(free?.id ?? 0)).toBeNull()
    expect(await garden.spots(bed.id)).toEqual([used])
    expect(await garden.spots(99)).toEqual([])
    expect(await garden.spots()).toEqual([used])
  })
})

describe('probes', () => {
  const channel = (some: Partial<Omit<Channel, 'probe'>> = {}): Omit<Channel, 'probe'> => ({
    name: 'e1',
    senses: 'ph.emf',
    unit: 'mV',
    low: -500,
    high: 500,
    resolution: 0.1,
    depthM: 0.15,
    from: null,
    described: true,
    ...some,
  })

  test('start as strangers, up to a number, and tell more with time', async () => {
    const heard = await garden.hear(
      [
        { id: 'row1', at: 100, firmware: '1.2', channels: [channel()] },
        { id: 'row2', at: 110, state: 'sleep', expectedAt: 900.5, intervalS: 600 },
        { id: 'row3', at: 120 },
        { id: 'row3', at: 130 },
        { id: 'row1', at: 90, state: 'on', hardware: 'b' },
      ],
      2,
    )
    expect(heard).toEqual({ refused: ['row3'] })
    expect(await garden.probes()).toEqual([
      {
        id: 'row1',
        name: 'row1',
        adoptedAt: null,
        firstSeenAt: 100,
        lastSeenAt: 100,
        state: 'on',
        stateAt: 90,
        expectedAt: null,
        firmware: '1.2',
        hardware: 'b',
        intervalS: null,
      },
      expect.objectContaining({ id: 'row2', state: 'sleep', expectedAt: 900.5, intervalS: 600 }),
    ])
    expect(await garden.probe('row3')).toBeNull()
    await garden.adoptProbe('row1', 'Row one', 150)
    expect(await garden.hear([{ id: 'row3', at: 160 }], 2)).toEqual({ refused: [] })
  })

  test('are adopted once, renamed after that, and stand before strangers', async () => {
    await garden.hear([{ id: 'row1', at: 100 }], 9)
    expect(await garden.adoptProbe('row2', 'Two', 200)).toMatchObject({
      name: 'Two',
      adoptedAt: 200,
      firstSeenAt: 200,
    })
    expect((await garden.probes()).map(({ id }) => id)).toEqual(['row2', 'row1'])
    expect(await garden.adoptProbe('row1', 'One', 300)).toMatchObject({
      name: 'One',
      adoptedAt: 300,
      firstSeenAt: 100,
    })
    expect(await garden.adoptProbe('row1', 'First', 400)).toMatchObject({
      name: 'First',
      adoptedAt: 300,
    })
  })

  test('a guess from a name does not undo what the probe said of a channel', async () => {
    const guess = channel({ described: false, low: null, unit: '' })
    await garden.hear([{ id: 'row1', at: 1, channels: [guess, channel({ name: 'm1' })] }], 9)
    expect(await garden.channels('row1')).toMatchObject([
      { name: 'e1', described: false },
      { name: 'm1' },
    ])
    await garden.hear([{ id: 'row1', at: 2, channels: [channel({ high: 400, from: 'm1' })] }], 9)
    await garden.hear([{ id: 'row1', at: 3, channels: [guess] }], 9)
    const said = { ...channel({ high: 400, from: 'm1' }), probe: 'row1' }
    expect(await garden.channels('row1')).toEqual([
      said,
      { ...channel({ name: 'm1' }), probe: 'row1' },
    ])
    expect(await garden.channels('row2')).toEqual([])
    expect(await garden.channels()).toHaveLength(2)
  })

  test('move from spot to spot: the earlier placement ends, later ones go', async () => {
    const bed = await garden.addBed(newBed(), 0)
    const other = await garden.addBed(newBed(), 0)
    const [a, b, c] = await Promise.all([
      garden.addSpot(bed.id, 'a'),
      garden.addSpot(bed.id, 'b'),
      garden.addSpot(other.id, 'c'),
    ])
    if (a === null || b === null || c === null) throw new Error('no spots')
    await garden.adoptProbe('row1', 'One', 0)
    const shape = async () => (await garden.placements()).map((p) => [p.spotId, p.from, p.to])

    await garden.placeProbe('row1', a.id, 100)
    await garden.placeProbe('row1', b.id, 200)
    const all = await garden.placeProbe('row1', c.id, 300)
    expect(all.map(({ spotId }) => spotId)).toEqual([a.id, b.id, c.id])
    expect(await shape()).toEqual([
      [a.id, 100, 200],
      [b.id, 200, 300],
      [c.id, 300, null],
    ])
    expect(await garden.placements(other.id)).toMatchObject([{ spotId: c.id }])
    // Corrected afterwards: it went to c earlier than noted, and b never happened.
    await garden.placeProbe('row1', c.id, 150)
    expect(await shape()).toEqual([
      [a.id, 100, 150],
      [c.id, 150, null],
    ])
    await garden.placeProbe('row1', null, 400)
    await garden.placeProbe('row1', c.id, 200)
    expect(await shape()).toEqual([
      [a.id, 100, 150],
      [c.id, 150, null],
    ])
    // Taken out by mistake and put back; moved by mistake and moved back.
    await garden.placeProbe('row1', null, 400)
    await garden.placeProbe('row1', c.id, 400)
    await garden.placeProbe('row1', b.id, 500)
    await garden.placeProbe('row1', c.id, 500)
    expect(await shape()).toEqual([
      [a.id, 100, 150],
      [c.id, 150, null],
    ])
    // Back in a spot it was in before, with time between: two stays.
    await garden.placeProbe('row1', a.id, 500)
    expect(await shape()).toEqual([
      [a.id, 100, 150],
      [c.id, 150, 500],
      [a.id, 500, null],
    ])
    await garden.placeProbe('row1', null, 50)
    expect(await shape()).toEqual([])
    await expect(garden.placeProbe('row1', 99, 50)).rejects.toThrow('FOREIGN KEY')
    expect(await shape()).toEqual([])
  })

  test('calibrations of both kinds are dated records', async () => {
    await garden.adoptProbe('row1', 'One', 0)
    await garden.adoptProbe('row2', 'Two', 0)
    const moisture = await garden.addCalibration({
      kind: 'moisture',
      probe: 'row2',
      channel: 'm1',
      at: 300,
      dryRaw: 2900.5,
      wetRaw: 1200,
      note: '',
    })
    const electrode = await garden.addCalibration({
      kind: 'electrode',
      probe: 'row1',
      channel: 'e1',
      at: 200,
      points: [
        { ph: 6.88, emfMv: 3.5 },
        { ph: 4, emfMv: 171 },
      ],
      temperatureC: 20,
      note: 'fresh buffers',
    })
    expect(await garden.calibrations()).toEqual([electrode, moisture])
    expect(electrode).toMatchObject({ kind: 'electrode', points: [{ ph: 6.88 }, { emfMv: 171 }] })
    expect(moisture).toEqual(expect.objectContaining({ dryRaw: 2900.5, wetRaw: 1200 }))
    expect(await garden.calibrations('row1')).toEqual([electrode])
    const { id: _id, ...kept } = electrode
    const corrected = { ...kept, at: 400, note: 'read again' }
    expect(await garden.changeCalibration(electrode.id, corrected)).toEqual({
      ...corrected,
      id: electrode.id,
    })
    expect(await garden.changeCalibration(99, corrected)).toBeNull()
    expect((await garden.calibrations()).map(({ id }) => id)).toEqual([moisture.id, electrode.id])
    expect(await garden.removeCalibration(electrode.id)).toBe(true)
    expect(await garden.removeCalibration(electrode.id)).toBe(false)
    expect(await garden.calibrations()).toEqual([moisture])
  })
})

test('news change only what they tell of; null takes a thing back', async () => {
  await garden.adoptProbe('row1', 'One', 50)
  const told = { firmware: '1.2', hardware: 'b', expectedAt: 900, intervalS: 600 }
  await garden.hear([{ id: 'row1', at: 100, state: 'sleep', ...told }], 0)
  await garden.hear([{ id: 'row1', at: 200 }], 0)
  const probe = await garden.probe('row1')
  expect(probe).toEqual({
    id: 'row1',
    name: 'One',
    adoptedAt: 50,
    firstSeenAt: 50,
    lastSeenAt: 200,
    state: 'sleep',
    stateAt: 100,
    ...told,
  })
  await garden.hear([{ id: 'row1', at: 300, expectedAt: null, firmware: null }], 0)
  expect(await garden.probe('row1')).toEqual({
    ...probe,
    lastSeenAt: 300,
    expectedAt: null,
    firmware: null,
  })
})

test('everything is there again after a restart, and numbers are not given twice', async () => {
  const bed = await garden.addBed(newBed({ ownBand: { low: 5, high: 6 } }), 1)
  const gone = await garden.addBed(newBed({ name: 'Old' }), 2)
  const [spot, other] = [await garden.addSpot(bed.id, 'a'), await garden.addSpot(bed.id, 'b')]
  if (spot === null || other === null) throw new Error('no spots')
  await garden.retireBed(gone.id, 5)
  const described = {
    name: 'm1',
    senses: 'moist.raw',
    unit: 'count',
    low: 0,
    high: 4095,
    resolution: 1,
    depthM: 0.1,
    from: null,
    described: true,
  } as const
  await garden.hear([{ id: 'row1', at: 10, channels: [described] }], 9)
  await garden.adoptProbe('row1', 'One', 11)
  await garden.placeProbe('row1', spot.id, 12)
  await garden.addCalibration({
    kind: 'moisture',
    probe: 'row1',
    channel: 'm1',
    at: 13,
    dryRaw: 2900,
    wetRaw: 1200,
    note: '',
  })
  const note = {
    bedId: bed.id,
    at: 14,
    kind: 'note',
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: 'sown',
  } as const
  await garden.addEntry(note)
  const last = await garden.addEntry(note)
  await garden.removeEntry(last.id)
  await garden.removeSpot(other.id)
  const all = async () => ({
    garden: await garden.garden(),
    beds: await garden.beds({ retired: true }),
    spots: await garden.spots(),
    probes: await garden.probes(),
    channels: await garden.channels(),
    placements: await garden.placements(),
    calibrations: await garden.calibrations(),
    journal: await garden.journal({}),
  })
  const before = await all()
  expect(before).toMatchObject({ beds: [bed, { retiredAt: 5 }], spots: [spot] })
  await garden.close()
  garden = await open('UTC')
  expect(await all()).toEqual(before)
  expect((await garden.addEntry(note)).id).toBeGreaterThan(last.id)
  expect((await garden.addSpot(bed.id, 'c'))?.id).toBeGreaterThan(other.id)
})

test('the journal is read by bed and by time', async () => {
  const bed = await garden.addBed(newBed(), 0)
  const other = await garden.addBed(newBed(), 0)
  const entry = (some: Partial<NewJournalEntry>): NewJournalEntry => ({
    bedId: bed.id,
    at: 100,
    kind: 'note',
    material: null,
    amountG: null,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
    ...some,
  })
  const late = await garden.addEntry(entry({ at: 300, kind: 'irrigation', waterL: 12.5 }))
  const early = await garden.addEntry(
    entry({ kind: 'treatment', material: 'wood ash', amountG: 80 }),
  )
  const next = await garden.addEntry(
    entry({ bedId: other.id, at: 200, kind: 'sample', ph: 6.4, method: 'slurry 1:1', text: 'dry' }),
  )
  expect(await garden.journal({})).toEqual([early, next, late])
  expect(await garden.journal({ bedId: bed.id })).toEqual([early, late])
  expect(await garden.journal({ from: 200, to: 300 })).toEqual([next])
  expect(await garden.journal({ bedId: bed.id, from: 100, to: 101 })).toEqual([early])
  expect(await garden.journal({ from: 101 })).toEqual([next, late])
  expect(await garden.journal({ to: 300 })).toEqual([early, next])
  expect(await garden.journal({ bedId: 99 })).toEqual([])
  expect(await garden.entry(next.id)).toEqual(next)
  expect(await garden.entry(99)).toBeNull()
  const changed = entry({ at: 50, text: 'a note after all' })
  expect(await garden.changeEntry(late.id, changed)).toEqual({
    ...changed,
    id: late.id,
    by: null,
  })
  expect(await garden.changeEntry(99, changed)).toBeNull()
  expect(await garden.removeEntry(early.id)).toBe(true)
  expect(await garden.removeEntry(early.id)).toBe(false)
  expect((await garden.journal({})).map(({ id }) => id)).toEqual([late.id, next.id])
})

test('alarms are kept as episodes; those not back to normal are open', async () => {
  const bed = await garden.addBed(newBed(), 0)
  const alarm = (some: Partial<Alarm>): Alarm => ({
    id: 0,
    bedId: bed.id,
    kind: 'harmful-shift',
    subject: '',
    priority: 'high',
    state: 'unacknowledged',
    raisedAt: 100,
    acknowledgedAt: null,
    returnedAt: null,
    overSince: null,
    shelvedUntil: null,
    changedAt: 100,
    evidence: {
      from: 6.5,
      to: 5.3,
      change: -1.2,
      changeHalfWidth: 0.2,
      since: 90,
      spotsMoved: ['left'],
      spotsSteady: [],
      sureness: 0.97,
      journalId: null,
      cause: null,
      causeSettled: null,
    },
    sentence: 'pH fell by 1.2.',
    advice: 'Measure by hand.',
    ...some,
  })
  const step = (of: Alarm, what: AlarmStep['what'], more: Partial<AlarmStep> = {}): AlarmStep => ({
    alarm: of,
    at: of.changedAt,
    what,
    by: null,
    note: '',
    ...more,
  })
  const [first, second] = await garden.saveAlarms([
    step(alarm({}), 'raised'),
    step(alarm({ kind: 'probe-check', subject: 'row1', raisedAt: 200 }), 'raised'),
  ])
  if (first === undefined || second === undefined) throw new Error('not saved')
  expect(first).toEqual(alarm({ id: first.id }))
  expect(await garden.openAlarms()).toEqual([second, first])
  const over = {
    ...first,
    state: 'normal',
    acknowledgedAt: 300,
    returnedAt: 350,
    overSince: 340,
  } as const
  expect(
    await garden.saveAlarms([
      step(over, 'returned', { at: 350.25 }),
      step(alarm({ raisedAt: 400, bedId: null, kind: 'hub-trouble', subject: 'disk' }), 'raised'),
    ]),
  ).toMatchObject([over, { raisedAt: 400, bedId: null }])
  expect((await garden.openAlarms()).map(({ raisedAt }) => raisedAt)).toEqual([400, 200])
  expect((await garden.alarms(2)).map(({ raisedAt }) => raisedAt)).toEqual([400, 200])
  expect(await garden.alarms(9)).toHaveLength(3)
  expect(await garden.alarm(first.id)).toEqual(over)
  await garden.close()
  garden = await open('UTC')
  expect(await garden.alarm(first.id)).toEqual(over)
  expect(await garden.alarm(99)).toBeNull()
  // All or nothing.
  await expect(
    garden.saveAlarms([
      step(alarm({ raisedAt: 500 }), 'raised'),
      step(alarm({ id: 99 }), 'changed'),
    ]),
  ).rejects.toThrow('99')
  expect(await garden.alarms(9)).toHaveLength(3)

  const changes = await garden.alarmChanges({ limit: 9 })
  expect(changes).toMatchObject([
    { alarmId: first.id, what: 'raised', alarm: first },
    { alarmId: second.id, what: 'raised', alarm: second },
    { alarmId: first.id, at: 350.25, what: 'returned', alarm: over },
    { what: 'raised', alarm: { kind: 'hub-trouble' } },
  ])
  expect(await garden.alarmChanges({ after: changes[1]!.id, limit: 1 })).toEqual([changes[2]])
  expect(await garden.alarmChanges({ alarmId: first.id, limit: 9 })).toEqual([
    changes[0],
    changes[2],
  ])
  // Bookkeeping leaves no trace; a note leaves one with who wrote it.
  await garden.saveAlarms([
    step({ ...second, overSince: 600 }, null),
    step(second, 'noted', { at: 700, by: 'Ona', note: 'looked at the plug' }),
  ])
  expect(await garden.alarmChanges({ after: changes.at(-1)!.id, limit: 9 })).toMatchObject([
    { alarmId: second.id, at: 700, what: 'noted', by: 'Ona', note: 'looked at the plug' },
  ])
})

test('a trial is kept as it was planned, and can be given up once', async () => {
  const plan = {
    claim: 'Coffee grounds make the bed sour',
    direction: 'lowers',
    material: 'coffee grounds',
    leastEffect: 0.2,
    treated: [1, 3],
    untreated: [2],
    startsAt: 5000,
    days: 120,
  } as const
  const first = await garden.addTrial(plan, 1000)
  expect(first).toEqual({ ...plan, id: first.id, createdAt: 1000, givenUpAt: null })
  const later = await garden.addTrial({ ...plan, startsAt: 9000 }, 1000)
  await garden.close()
  garden = await open('UTC')
  expect(await garden.trials()).toEqual([later, first])
  expect(await garden.giveUpTrial(first.id, 6000)).toEqual({ ...first, givenUpAt: 6000 })
  expect(await garden.giveUpTrial(first.id, 7000), 'given up before').toBeNull()
  expect(await garden.trial(first.id)).toMatchObject({ givenUpAt: 6000 })
  expect(await garden.removeTrial(later.id)).toBe(true)
  expect(await garden.removeTrial(later.id)).toBe(false)
  expect(await garden.trial(later.id)).toBeNull()
})
