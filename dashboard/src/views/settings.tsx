export function SettingsView() { return <h1>…</h1> }
