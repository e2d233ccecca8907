/** All texts of the pages, one file a room of the dashboard. */
const parts = import.meta.glob<Readonly<Record<string, string>>>('./es/*.json', {
  eager: true,
  import: 'default',
})

export default Object.assign({}, ...Object.values(parts)) as Readonly<Record<string, string>>
