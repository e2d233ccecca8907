/** Longest side of a photo that is kept, px. */
const LONGEST_PX = 1600
const QUALITY = 0.85

/** Size within the longest side, never larger than it was. */
export function fitted(
  width: number,
  height: number,
  longest = LONGEST_PX,
): { readonly width: number; readonly height: number } {
  const part = Math.min(1, longest / Math.max(width, height, 1))
  return {
    width: Math.max(1, Math.round(width * part)),
    height: Math.max(1, Math.round(height * part)),
  }
}

/**
 * A photo drawn anew at most 1600 px long, as JPEG: what the camera wrote beside the picture, such as the place, is not
 * in it. Null for what the browser cannot read as a picture.
 */
export async function shrunk(file: Blob): Promise<Blob | null> {
  let picture: ImageBitmap
  try {
    // Turned upright as the camera says, before that is lost with the rest.
    picture = await createImageBitmap(file, { imageOrientation: 'from-image' })
  } catch {
    return null
  }
  const { width, height } = fitted(picture.width, picture.height)
  const canvas = document.createElement('canvas')
  canvas.width = width
  canvas.height = height
  const paper = canvas.getContext('2d')
  if (paper === null) return null
  // See-through pictures would turn black in JPEG.
  paper.fillStyle = '#fff'
  paper.fillRect(0, 0, width, height)
  paper.drawImage(picture, 0, 0, width, height)
  picture.close()
  return new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg', QUALITY))
}
