export function BedView(_: { id: never }) { return <h1>…</h1> }
