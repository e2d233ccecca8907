export function ProbesView() { return <h1>…</h1> }
