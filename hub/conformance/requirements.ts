/** One numbered requirement of the firmware specification. */
export interface Requirement {
  readonly id: string
  readonly word: 'MUST' | 'MUST NOT' | 'SHOULD'
  /** False: asked of plain probes too, which send nothing but plain numbers. */
  readonly core: boolean
  /** What it is about, in a few words. */
  readonly about: string
}

const row = (
  number: number,
  word: Requirement['word'],
  about: string,
  core = true,
): Requirement => ({ id: `LM-${String(number).padStart(2, '0')}`, word, core, about })

/** Every requirement by number. The whole sentence stands in firmware-spec/README.md. */
export const REQUIREMENTS: readonly Requirement[] = [
  row(1, 'MUST', 'speaks MQTT 3.1.1'),
  row(2, 'MUST', 'id, client id and user name are one', false),
  row(3, 'MUST', 'at most 249 bytes of topic and payload', false),
  row(4, 'MUST', 'takes 128 bytes, outlives more'),
  row(5, 'MUST', 'retained will "off" with the present boot'),
  row(6, 'MUST', 'subscribes, says "on", then sends readings'),
  row(7, 'MUST', 'birth and channels, retained, and after hello'),
  row(8, 'MUST', 'channels named, listed and described', false),
  row(9, 'MUST NOT', 'retains readings, batches or results', false),
  row(10, 'MUST', 'payloads are valid', false),
  row(11, 'MUST', 'n counts from 0, up by one'),
  row(12, 'MUST', 'a boot and a number are never used twice'),
  row(13, 'MUST', 'u never falls and keeps time'),
  row(14, 'MUST NOT', 'sends t only when it is right'),
  row(15, 'MUST', 'late readings go to up/b'),
  row(16, 'MUST', 'null for a failed sensor', false),
  row(17, 'MUST', 'raw channel beside every derived one'),
  row(18, 'SHOULD', 'spread of the electrode voltage'),
  row(19, 'MUST', 'flag 1 while not settled'),
  row(20, 'SHOULD', 'electrode voltage to 0.6 mV'),
  row(21, 'MUST', 'notices a dead link in time'),
  row(22, 'MUST', 'connects again with growing, spread pauses'),
  row(23, 'MUST', 'keeps 96 readings'),
  row(24, 'MUST', 'batches oldest first, one unanswered'),
  row(25, 'MUST', 'an acknowledgement frees its own boot only'),
  row(26, 'MUST', 'sends again in time, then with growing pauses'),
  row(27, 'SHOULD', 'QoS 1 where the library can'),
  row(28, 'MUST', 'refuses settings out of range as a whole'),
  row(29, 'MUST', 'carries a command out once'),
  row(30, 'MUST NOT', 'leaves its own topics', false),
  row(31, 'MUST', 'sleeps in order and wakes in time'),
  row(32, 'MUST', 'waits for retained messages before it sleeps'),
  row(33, 'MUST', 'a password of its own, no secret in a payload'),
  row(34, 'MUST', 'checks the hub it encrypts to'),
  row(35, 'SHOULD', 'outlives a day of cuts and broken messages'),
]
