import { gardenAccounts } from './garden-accounts.ts'
import { gardenAlarms } from './garden-alarms.ts'
import { gardenBeds } from './garden-beds.ts'
import { gardenCredentials } from './garden-credentials.ts'
import { gardenDelivery } from './garden-delivery.ts'
import { gardenJournal } from './garden-journal.ts'
import { gardenOrders } from './garden-orders.ts'
import { gardenPhotos } from './garden-photos.ts'
import { gardenPlans } from './garden-plans.ts'
import { gardenProbes } from './garden-probes.ts'
import { gardenSent } from './garden-sent.ts'
import { gardenSoil } from './garden-soil.ts'
import { gardenStorage } from './garden-storage.ts'
import { gardenTrials } from './garden-trials.ts'
import { migrate } from './migrate.ts'
import { openDatabase } from './open-database.ts'
import { serve } from './serve.ts'

function openGarden(file: string, zone: string) {
  const db = openDatabase(file)
  migrate(db, new URL('../migrations/garden/', import.meta.url), file)
  const journal = gardenJournal(db)
  return {
    ...gardenBeds(db, zone),
    ...gardenProbes(db),
    ...gardenCredentials(db),
    ...journal,
    ...gardenSent(db, journal.addEntry),
    ...gardenOrders(db),
    ...gardenPhotos(db),
    ...gardenSoil(db),
    ...gardenPlans(db, journal.addEntry),
    ...gardenAlarms(db),
    ...gardenTrials(db),
    ...gardenAccounts(db),
    ...gardenDelivery(db),
    ...gardenStorage(db),
    close: (): void => db.close(),
  }
}

export type GardenApi = ReturnType<typeof openGarden>

serve<{ readonly file: string; readonly zone: string }>(({ file, zone }) => openGarden(file, zone))
