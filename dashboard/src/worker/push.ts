/** What the worker does when the hub sends a message while no page is open. */
export function watchPush(_scope: ServiceWorkerGlobalScope): void {
  // Messages are shown here as soon as the hub sends any.
}
