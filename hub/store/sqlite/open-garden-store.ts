import { startRemote } from './remote.ts'
import type { HubError } from '../../errors.ts'
import type { GardenStore } from '../garden-store.ts'
import type { GardenApi } from './garden-worker.ts'

/**
 * Garden records in one SQLite file, kept by a thread of its own.
 *
 * @param zone IANA zone of a garden that is new; an existing one keeps its own.
 */
export async function openGardenStore(
  file: string,
  zone: string,
  watch: { readonly onDeath: (error: HubError) => void },
): Promise<GardenStore> {
  const garden = await startRemote<GardenApi, { file: string; zone: string }>(
    new URL('./garden-worker.ts', import.meta.url),
    { file, zone },
    watch,
  )
  return {
    garden: () => garden.call('garden', []),
    setGarden: (...args) => garden.call('setGarden', args),
    beds: (...args) => garden.call('beds', args),
    bed: (...args) => garden.call('bed', args),
    addBed: (...args) => garden.call('addBed', args),
    changeBed: (...args) => garden.call('changeBed', args),
    retireBed: (...args) => garden.call('retireBed', args),
    spots: (...args) => garden.call('spots', args),
    addSpot: (...args) => garden.call('addSpot', args),
    renameSpot: (...args) => garden.call('renameSpot', args),
    removeSpot: (...args) => garden.call('removeSpot', args),
    probes: () => garden.call('probes', []),
    probe: (...args) => garden.call('probe', args),
    hear: (...args) => garden.call('hear', args),
    adoptProbe: (...args) => garden.call('adoptProbe', args),
    channels: (...args) => garden.call('channels', args),
    credentials: () => garden.call('credentials', []),
    setCredential: (...args) => garden.call('setCredential', args),
    placements: (...args) => garden.call('placements', args),
    placeProbe: (...args) => garden.call('placeProbe', args),
    calibrations: (...args) => garden.call('calibrations', args),
    addCalibration: (...args) => garden.call('addCalibration', args),
    changeCalibration: (...args) => garden.call('changeCalibration', args),
    removeCalibration: (...args) => garden.call('removeCalibration', args),
    journal: (...args) => garden.call('journal', args),
    entry: (...args) => garden.call('entry', args),
    addEntry: (...args) => garden.call('addEntry', args),
    changeEntry: (...args) => garden.call('changeEntry', args),
    removeEntry: (...args) => garden.call('removeEntry', args),
    openAlarms: () => garden.call('openAlarms', []),
    alarms: (...args) => garden.call('alarms', args),
    alarm: (...args) => garden.call('alarm', args),
    saveAlarms: (...args) => garden.call('saveAlarms', args),
    trials: () => garden.call('trials', []),
    trial: (...args) => garden.call('trial', args),
    addTrial: (...args) => garden.call('addTrial', args),
    giveUpTrial: (...args) => garden.call('giveUpTrial', args),
    removeTrial: (...args) => garden.call('removeTrial', args),
    bedSoil: (...args) => garden.call('bedSoil', args),
    setBedSoil: (...args) => garden.call('setBedSoil', args),
    soilTests: (...args) => garden.call('soilTests', args),
    addSoilTest: (...args) => garden.call('addSoilTest', args),
    removeSoilTest: (...args) => garden.call('removeSoilTest', args),
    plans: (...args) => garden.call('plans', args),
    plan: (...args) => garden.call('plan', args),
    addPlan: (...args) => garden.call('addPlan', args),
    doStage: (...args) => garden.call('doStage', args),
    closePlan: (...args) => garden.call('closePlan', args),
    planningSettings: () => garden.call('planningSettings', []),
    setPlanningSettings: (...args) => garden.call('setPlanningSettings', args),
    photos: (...args) => garden.call('photos', args),
    photo: (...args) => garden.call('photo', args),
    setPhoto: (...args) => garden.call('setPhoto', args),
    removePhoto: (...args) => garden.call('removePhoto', args),
    addOrder: (...args) => garden.call('addOrder', args),
    orders: (...args) => garden.call('orders', args),
    openOrders: (...args) => garden.call('openOrders', args),
    standingSettings: (...args) => garden.call('standingSettings', args),
    orderSent: (...args) => garden.call('orderSent', args),
    answerOrder: (...args) => garden.call('answerOrder', args),
    close: () => garden.close(),
  }
}
