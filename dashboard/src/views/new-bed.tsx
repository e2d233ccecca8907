export function NewBedView() { return <h1>…</h1> }
