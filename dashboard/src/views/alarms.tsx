export function AlarmsView() { return <h1>…</h1> }
