import { readdirSync, readFileSync } from 'node:fs'
import { DatabaseSync } from 'node:sqlite'

/*
 * A garden as an older version left it: made by the migrations up to a number, with rows in every table there was.
 */

const MIGRATIONS = new URL('../../../hub/store/migrations/', import.meta.url)

interface Step {
  readonly version: number
  readonly sql: string
}

/** Every migration of a database, ascending. */
export function migrationsOf(database: 'garden' | 'readings'): readonly Step[] {
  const folder = new URL(`${database}/`, MIGRATIONS)
  return readdirSync(folder)
    .filter((name) => name.endsWith('.sql'))
    .toSorted()
    .map((name) => ({
      version: Number(name.slice(0, 3)),
      sql: readFileSync(new URL(name, folder), 'utf8'),
    }))
}

/** An empty database of that layout. The caller closes it. */
export function databaseOf(
  file: string,
  database: 'garden' | 'readings',
  layout: number,
): DatabaseSync {
  const db = new DatabaseSync(file)
  db.exec('PRAGMA journal_mode = WAL')
  for (const { version, sql } of migrationsOf(database)) if (version <= layout) db.exec(sql)
  db.exec(`PRAGMA user_version = ${layout}`)
  return db
}

/** Rows as a hub of layout `since` (to `until`) wrote them. */
const ROWS: readonly { readonly since: number; readonly until?: number; readonly sql: string }[] = [
  {
    since: 1,
    until: 6,
    sql: `INSERT INTO garden VALUES (1, 'Behind the shed', 'Europe/Madrid', 'us')`,
  },
  {
    since: 7,
    sql: `INSERT INTO garden VALUES (1, 'Behind the shed', 'Europe/Madrid', 'us', 'es')`,
  },
  {
    since: 1,
    sql: `INSERT INTO bed VALUES
      (1, 'Alder', 2.4, 0.3, 'loam', '["carrot"]', 6, 6.8, 1, 1700000000000, NULL),
      (2, 'Birch, old', 1.2, 0.25, 'raised-bed mix', '[]', NULL, NULL, 2, 1690000000000, 1705000000000)`,
  },
  { since: 1, sql: `INSERT INTO spot VALUES (1, 1, 'north'), (2, 1, 'south'), (3, 2, 'middle')` },
  {
    since: 1,
    sql: `INSERT INTO probe VALUES
      ('row1', 'First', 1700000000000, 1700000000000, 1710000000000, 'on', 1710000000000, NULL, 'fw 1', NULL, 600),
      ('row2', 'Second', NULL, 1700000000000, 1710000000000, 'sleep', 1710000000000, 1710000900000, NULL, NULL, NULL)`,
  },
  {
    since: 1,
    sql: `INSERT INTO channel VALUES
      ('row1', 'phmv', 'ph.emf', 'mV', -2048, 2047.9375, 0.0625, 0.15, NULL, 1),
      ('row1', 'm1', 'moist.raw', 'count', 0, 4095, 1, 0.15, NULL, 0)`,
  },
  {
    since: 1,
    sql: `INSERT INTO placement VALUES (1, 'row1', 1, 1700000000000, 1704000000000),
      (2, 'row1', 2, 1704000000000, NULL)`,
  },
  {
    since: 1,
    sql: `INSERT INTO calibration (kind, probe, channel, at, ph_1, emf_mv_1, ph_2, emf_mv_2, temperature_c, dry_raw,
        wet_raw, note) VALUES
      ('electrode', 'row1', 'phmv', 1700100000000, 7, 3.2, 4, 178.5, 21.5, NULL, NULL, 'in the shed'),
      ('moisture', 'row1', 'm1', 1700100000000, NULL, NULL, NULL, NULL, NULL, 3100, 1400, '')`,
  },
  {
    since: 1,
    sql: `INSERT INTO journal (bed, at, kind, material, amount_g, water_l, probe, ph, method, text) VALUES
      (1, 1701000000000, 'treatment', 'garden lime', 240, NULL, NULL, NULL, NULL, 'half of it'),
      (1, 1702000000000, 'sample', NULL, NULL, NULL, NULL, 6.4, 'slurry 1:1', ''),
      (2, 1702000000000, 'note', NULL, NULL, NULL, NULL, NULL, NULL, 'ants')`,
  },
  {
    since: 1,
    until: 7,
    sql: `INSERT INTO alarm VALUES
      (1, 1, 'out-of-band', 'ph', 'unacknowledged', 1703000000000, NULL, NULL, NULL, 1703000000000,
        '{"from":6.4,"to":7.1,"since":1702900000000}', 'Too high.', 'Test again.'),
      (2, 1, 'harmful-shift', 'ph', 'normal', 1700000000000, 1700000500000, 1700000900000, NULL, 1700000900000,
        '{"from":6.4,"to":7.1,"since":1702900000000}', 'Jumped.', '')`,
  },
  {
    since: 8,
    until: 12,
    sql: `INSERT INTO alarm VALUES
      (1, 1, 'out-of-band', 'ph', 'medium', 'unacknowledged', 1703000000000, NULL, NULL, NULL, NULL, 1703000000000,
        '{"from":6.4,"to":7.1,"since":1702900000000}', 'Too high.', 'Test again.'),
      (2, 1, 'harmful-shift', 'ph', 'high', 'normal', 1700000000000, 1700000500000, 1700000900000, NULL, NULL,
        1700000900000, '{"from":6.4,"to":7.1,"since":1702900000000}', 'Jumped.', '')`,
  },
  {
    since: 13,
    sql: `INSERT INTO alarm VALUES
      (1, 1, 'out-of-band', 'ph', 'medium', 'unacknowledged', 1703000000000, NULL, NULL, NULL, NULL, 1703000000000,
        '{"from":6.4,"to":7.1,"since":1702900000000}', 'Too high.', 'Test again.', NULL),
      (2, 1, 'harmful-shift', 'ph', 'high', 'normal', 1700000000000, 1700000500000, 1700000900000, NULL, NULL,
        1700000900000, '{"from":6.4,"to":7.1,"since":1702900000000}', 'Jumped.', '', NULL)`,
  },
  {
    since: 2,
    sql: `INSERT INTO trial VALUES
      (1, 'Lime raises', 'raises', 'garden lime', 0.3, '[1]', '[2]', 1701000000000, 60, 1700900000000, NULL)`,
  },
  { since: 3, sql: `INSERT INTO bed_soil VALUES (1, 1100, 'bare', 1)` },
  {
    since: 3,
    sql: `INSERT INTO soil_test VALUES (1, 1, 1701500000000, 'lab', '{"kind":"buffer","method":"Mehlich","ph":6.5}')`,
  },
  {
    since: 3,
    until: 13,
    sql: `INSERT INTO plan VALUES (1, 1, 1701000000000, 'garden lime', 1, 5.9, 6.4,
      '{"low":1,"typical":2,"high":3}', 'table', NULL, NULL)`,
  },
  {
    since: 14,
    sql: `INSERT INTO plan VALUES (1, 1, 1701000000000, 'garden lime', 1, 5.9, 6.4,
      '{"low":1,"typical":2,"high":3}', 'table', NULL, NULL, NULL)`,
  },
  {
    since: 3,
    sql: `INSERT INTO plan_stage VALUES (1, 0, 1701000000000, 120, '{"low":0.1,"typical":0.2,"high":0.3}',
      1702000000000, 1703000000000, '[1704000000000]', 1)`,
  },
  {
    since: 3,
    sql: `UPDATE planning SET season_from = '03-15', season_to = '10-31', currency = 'EUR'`,
  },
  { since: 3, sql: `INSERT INTO price VALUES ('garden lime', 0.8)` },
  { since: 3, sql: `INSERT INTO photo VALUES (1, 'image/jpeg', x'ffd8ffe0')` },
  {
    since: 4,
    sql: `INSERT INTO credential VALUES ('row1', 1700000000000, 'scrypt$1$2$3', '$7$101$a$b'),
      ('row2', 1700000000000, NULL, NULL)`,
  },
  {
    since: 6,
    sql: `INSERT INTO probe_order (id, probe, kind, interval_s, samples, settle_s, what, boot, first, count, made_at,
        expires_at, sent_at, times, answered_at, ok, reason) VALUES
      (7, 'row1', 'settings', 900, 16, 5, NULL, NULL, NULL, NULL, 1700000000000, NULL, 1700000001000, 2,
        1700000002000, 1, NULL),
      (8, 'row1', 'resend', NULL, NULL, NULL, NULL, 3, 40, 6, 1700000000000, 1700090000000, NULL, 0, NULL, NULL, NULL)`,
  },
  {
    since: 8,
    sql: `INSERT INTO alarm_change VALUES (1, 1, 1703000000000, 'raised', NULL, '',
      '{"id":1,"bedId":1,"kind":"out-of-band","subject":"ph","priority":"medium","state":"unacknowledged",
        "raisedAt":1703000000000,"evidence":{"from":6.4,"to":7.1,"since":1702900000000},"sentence":"Too high.",
        "advice":"Test again."}')`,
  },
  {
    since: 9,
    sql: `INSERT INTO route VALUES (1, 1700000000000, NULL, '{"name":"house","target":{"kind":"broker"}}', 'secret',
      '{"changeId":1}')`,
  },
  {
    since: 9,
    sql: `INSERT INTO message VALUES (1, 1, 'uid-1', 1703000000000, NULL, '[]', 'sent', 1, 1703000001000, NULL,
      1703000001000, NULL, 0)`,
  },
  { since: 9, sql: `INSERT INTO hub_own VALUES ('name', 'loamline-1')` },
  {
    since: 10,
    sql: `INSERT INTO person VALUES (1, 'Marina', 'marina', 'owner', 1700000000000, 1700000000000, 'argon2id$x')`,
  },
  {
    since: 10,
    sql: `INSERT INTO session VALUES (1, 1, 1700000000000, 1700000000000, 'a phone', 'abc')`,
  },
  {
    since: 10,
    sql: `INSERT INTO access_key VALUES (1, 'token', 'script', 'read', NULL, 1700000000000, NULL, NULL, 'def')`,
  },
  { since: 11, sql: `INSERT INTO sent_once VALUES ('k1', 'd1', 1700000000000, '{"id":1}')` },
  {
    since: 12,
    sql: `INSERT INTO storage_day VALUES (19675, 1700000000000, 2e9, 20e9, 64e9, 1000)`,
  },
]

export type TableRows = Readonly<Record<string, readonly Readonly<Record<string, unknown>>[]>>

/** Every table of a database with its rows. */
export function rowsByTable(db: DatabaseSync): TableRows {
  const tables = db
    .prepare(
      `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name`,
    )
    .all() as { name: string }[]
  return Object.fromEntries(
    tables.map(({ name }) => [name, db.prepare(`SELECT * FROM "${name}"`).all()]),
  )
}

/** Writes a garden of a layout, with rows in every table; answers them. */
export function writeOldGarden(file: string, layout: number): TableRows {
  const db = databaseOf(file, 'garden', layout)
  try {
    for (const { since, until = Infinity, sql } of ROWS) {
      if (layout >= since && layout <= until) db.exec(sql)
    }
    return rowsByTable(db)
  } finally {
    db.close()
  }
}
