import type { Problem } from '../../../../hub/api/schemas/common.ts'
import type { ImportMapInput, ImportReportView } from '../../../../hub/api/schemas/transfer.ts'
import { ApiError } from '../../ask.ts'
import { say } from '../../say.ts'

/**
 * Sends a file to be checked or stored. The hub reads it as it comes, so what has been sent has been looked at.
 * `told` hears the share from 0 to 1.
 */
export function sendFile(
  what: 'check' | 'store',
  file: Blob,
  map: ImportMapInput,
  told: (share: number) => void,
): Promise<ImportReportView> {
  return new Promise((resolve, reject) => {
    const refuse = (problem: Problem): void => reject(new ApiError(problem))
    const request = new XMLHttpRequest()
    request.open('POST', `/api/import/${what}?map=${encodeURIComponent(JSON.stringify(map))}`)
    request.setRequestHeader('content-type', 'application/octet-stream')
    request.upload.onprogress = ({ loaded, total }) => told(total === 0 ? 1 : loaded / total)
    request.onload = () => {
      const { status, statusText } = request
      let answer: unknown
      try {
        answer = JSON.parse(request.responseText)
      } catch {
        const title = say`The hub answered ${status} with something that is not JSON`
        refuse({ type: 'about:blank', title, status })
        return
      }
      if (status === 200) resolve(answer as ImportReportView)
      else if (typeof answer === 'object' && answer !== null && 'title' in answer) {
        refuse(answer as Problem)
      } else
        refuse({
          type: 'about:blank',
          title: say`The hub answered ${status} ${statusText}`,
          status,
        })
    }
    request.onerror = () =>
      refuse({
        type: 'about:blank',
        title: say`The file could not be sent`,
        status: 0,
        detail: say`the hub cannot be reached, or the file is larger than 64 MiB`,
      })
    request.send(file)
  })
}
