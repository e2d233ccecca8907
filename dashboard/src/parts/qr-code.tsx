import { encodeQR } from 'qr'

/** Quiet zone of a QR code, modules (ISO/IEC 18004). */
const QUIET = 4

/** Text as a QR code, dark on white whatever the colours of the page. */
export function QrCode({ text, label }: { text: string; label: string }) {
  const rows = encodeQR(text, 'raw', { ecc: 'medium', border: QUIET })
  const dark = rows.flatMap((row, y) => row.flatMap((on, x) => (on ? [`M${x} ${y}h1v1h-1z`] : [])))
  return (
    <svg
      class="qr"
      role="img"
      aria-label={label}
      viewBox={`0 0 ${rows.length} ${rows.length}`}
      shape-rendering="crispEdges"
    >
      <rect width="100%" height="100%" fill="#fff" />
      <path d={dark.join('')} fill="#000" />
    </svg>
  )
}
