import { embeddedAddress } from '../assembly/own-addresses.ts'
import { loadConfig } from '../config/load.ts'
import { readBrokerUrl } from '../ingest/broker-url.ts'
import { callableHost } from '../model/address.ts'
import type { CommandContext } from './main.ts'

/**
 * Where the hub with these settings has its broker, as a program on this machine reaches it: a command that is told
 * no other finds the hub's own, whatever its port. Without name and password.
 *
 * @throws HubError HUB_CONFIG
 */
export function ownBroker({ env, configFile }: Pick<CommandContext, 'env' | 'configFile'>): string {
  const { config } = loadConfig(env, configFile)
  if (config.brokerUrl !== null) return readBrokerUrl(config.brokerUrl).address
  // Left to this machine alone, it does not listen at its other addresses.
  const mqttHost = config.mqttPlain === 'local' ? '127.0.0.1' : callableHost(config.mqttHost)
  return embeddedAddress({ ...config, mqttHost })
}
