/**
 * IANA zones whose reference place lies south of the equator; those that are not named lie north. Coordinates of
 * `zone.tab` of the time zone database (public domain), with the older names that are still in use.
 */
const SOUTHERN: ReadonlySet<string> = new Set(
  (
    'Africa/Blantyre Africa/Brazzaville Africa/Bujumbura Africa/Dar_es_Salaam ' +
    'Africa/Gaborone Africa/Harare Africa/Johannesburg Africa/Kigali Africa/Kinshasa ' +
    'Africa/Luanda Africa/Lubumbashi Africa/Lusaka Africa/Maputo Africa/Maseru ' +
    'Africa/Mbabane Africa/Nairobi Africa/Windhoek America/Araguaina America/Asuncion ' +
    'America/Bahia America/Belem America/Campo_Grande America/Coyhaique America/Cuiaba ' +
    'America/Eirunepe America/Fortaleza America/Guayaquil America/La_Paz America/Lima ' +
    'America/Maceio America/Manaus America/Montevideo America/Noronha ' +
    'America/Porto_Velho America/Punta_Arenas America/Recife America/Rio_Branco ' +
    'America/Santarem America/Santiago America/Sao_Paulo Asia/Dili Asia/Jakarta ' +
    'Asia/Jayapura Asia/Makassar Asia/Pontianak Atlantic/South_Georgia ' +
    'Atlantic/St_Helena Atlantic/Stanley Indian/Antananarivo Indian/Chagos ' +
    'Indian/Christmas Indian/Cocos Indian/Comoro Indian/Kerguelen Indian/Mahe ' +
    'Indian/Mauritius Indian/Mayotte Indian/Reunion Pacific/Apia Pacific/Auckland ' +
    'Pacific/Bougainville Pacific/Chatham Pacific/Easter Pacific/Efate Pacific/Fakaofo ' +
    'Pacific/Fiji Pacific/Funafuti Pacific/Galapagos Pacific/Gambier Pacific/Guadalcanal ' +
    'Pacific/Kanton Pacific/Marquesas Pacific/Nauru Pacific/Niue Pacific/Norfolk ' +
    'Pacific/Noumea Pacific/Pago_Pago Pacific/Pitcairn Pacific/Port_Moresby ' +
    'Pacific/Rarotonga Pacific/Tahiti Pacific/Tongatapu Pacific/Wallis ' +
    'America/Buenos_Aires America/Catamarca America/Cordoba America/Jujuy ' +
    'America/Mendoza America/Rosario America/Porto_Acre Pacific/Samoa Pacific/Enderbury ' +
    'NZ NZ-CHAT US/Samoa'
  ).split(' '),
)

/** Whole areas that lie south. */
const SOUTHERN_AREAS = ['Australia/', 'Antarctica/', 'America/Argentina/', 'Chile/', 'Brazil/']

/** True where spring begins in September. */
export function isSouthern(zone: string): boolean {
  return SOUTHERN.has(zone) || SOUTHERN_AREAS.some((area) => zone.startsWith(area))
}
