export function ProbeView(_: { id: never }) { return <h1>…</h1> }
