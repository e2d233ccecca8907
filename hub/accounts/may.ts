import type { Role, Scope } from '../model/account.ts'

/** Everything of the garden, for who needs no account or owns it. */
export const EVERYTHING: readonly Scope[] = ['read', 'enter', 'change', 'own']

/** What somebody with a role may do. */
export function scopesOf(role: Role): readonly Scope[] {
  return role === 'owner' ? EVERYTHING : ['read']
}

/** Whether scopes cover what is needed: who may change may also enter; no scope but `read` looks. */
export function may(scopes: readonly Scope[], needed: Scope): boolean {
  return scopes.includes(needed) || (needed === 'enter' && scopes.includes('change'))
}
