import { say } from '../say.ts'
/** The usual cautions for lime, sulfur, ash and the like; common practice, the label comes first. */
export function TreatmentCaution() {
  return (
    <aside class="caution" aria-label={say`Before you treat the bed`}>
      <strong>{say`Before you treat the bed`}</strong>
      <ul>
        <li>{say`Wear gloves, eye protection and a dust mask; spread in still weather.`}</li>
        <li>{say`Water it in, keep it off leaves, keep children and pets away until it is.`}</li>
        <li>{say`More than about one pH unit at once harms what lives in the soil: rather several small doses, measuring between them.`}</li>
        <li>{say`The product label, local rules and your local extension service come before anything said here.`}</li>
      </ul>
    </aside>
  )
}

/** Word of safety beside calibration. */
export function CalibrationCaution() {
  return (
    <aside class="caution" aria-label={say`Handling buffers and cleaners`}>
      <p>{say`Buffers: rinse between them, never pour used buffer back, keep them from children. Cleaning solutions are often acids or alkalis: gloves and eye protection, one at a time, never mixed, and what the label says. Keep mains power away from water; measure with the probe on battery or a safe low-voltage supply.`}</p>
    </aside>
  )
}
