/*
 * Payloads of firmware-spec/README.md for the smallest boards: C99, no floating point, no heap, no stdio.
 *
 * Every writer fills a buffer of the caller's, ends it with a NUL that is not sent, and returns how many bytes to
 * publish; 0 says that nothing may be published, because the buffer is too small, topic and payload would exceed
 * LM1_LIMIT bytes, or an argument breaks a rule. A value is a whole number of its last digit: 6.82 is { 682, 2 }.
 */
#ifndef LM1_H
#define LM1_H

#include <stdbool.h>
#include <stdint.h>

/* Topic and payload together (LM-03). */
#define LM1_LIMIT 249u
#define LM1_MAX_CHANNELS 8u

/* Flags of a reading; their sum goes into lm1_reading.flags. */
enum { LM1_UNSETTLED = 1, LM1_CLIPPED = 2, LM1_SUPPLY_LOW = 4, LM1_WATCHDOG = 8, LM1_WETTED = 16 };

/* digits / 10^decimals, or null where the sensor was tried and failed. At most 9 decimals, at most 1e9. */
typedef struct {
  int32_t digits;
  uint8_t decimals;
  bool failed;
} lm1_value;

typedef struct {
  uint32_t boot;
  uint32_t number;
  /* Whole seconds since boot; see lm1_uptime. */
  uint32_t uptime;
  /* Seconds since 1970, only while synchronised (LM-14); 0: none. */
  uint32_t epoch;
  uint8_t flags;
  uint8_t channels;
  const char *const *names;
  const lm1_value *values;
  /* Spread of the samples behind a value, in the order of names; NULL: none. A failed one is left out. */
  const lm1_value *spreads;
} lm1_reading;

/* One row of a batch. */
typedef struct {
  uint32_t number;
  uint32_t uptime;
  const lm1_value *values;
} lm1_row;

typedef struct {
  /* Boot of the rows. */
  uint32_t boot;
  /* Boot of now; the same as boot unless the rows are of an earlier one. */
  uint32_t present_boot;
  /* Uptime of present_boot as it is sent. */
  uint32_t uptime;
  uint8_t channels;
  const char *const *names;
  uint8_t rows;
  /* Oldest first, from the oldest reading still held (LM-24). */
  const lm1_row *row;
} lm1_batch;

typedef struct {
  const char *firmware;
  /* NULL: left out; so for claims. */
  const char *hardware;
  const char *claims;
  uint32_t boot;
  uint32_t uptime;
  uint32_t interval;
  uint8_t channels;
  const char *const *names;
  /* 0: left out. */
  uint32_t settings_version;
  uint32_t buffer;
} lm1_birth;

/* Members with NULL or failed are left out. */
typedef struct {
  const char *quantity;
  const char *unit;
  const char *from;
  lm1_value slope;
  lm1_value zero;
  const char *temperature;
  lm1_value low;
  lm1_value high;
  lm1_value step;
  lm1_value depth;
  const char *serial;
  uint32_t settings_version;
} lm1_channel;

/* "lm1/{id}/{leaf}" such as leaf "up/r", or "lm1/{id}/{leaf}/{channel}"; channel may be NULL. 0 for an id that is none (LM-02). */
uint16_t lm1_topic(char *out, uint16_t size, const char *id, const char *leaf, const char *channel);

/* topic_length: what lm1_topic returned for the topic it goes to. */
uint16_t lm1_write_reading(char *out, uint16_t size, uint16_t topic_length, const lm1_reading *reading);
/* As many rows from the front as fit go in; *taken tells how many. 0 when not even one fits. */
uint16_t lm1_write_batch(char *out, uint16_t size, uint16_t topic_length, const lm1_batch *batch, uint8_t *taken);
uint16_t lm1_write_on(char *out, uint16_t size, uint16_t topic_length, uint32_t boot, uint32_t uptime);
/* The will (LM-05). */
uint16_t lm1_write_off(char *out, uint16_t size, uint16_t topic_length, uint32_t boot);
uint16_t lm1_write_sleep(char *out, uint16_t size, uint16_t topic_length, uint32_t boot, uint32_t uptime, uint32_t seconds);
uint16_t lm1_write_birth(char *out, uint16_t size, uint16_t topic_length, const lm1_birth *birth);
uint16_t lm1_write_channel(char *out, uint16_t size, uint16_t topic_length, const lm1_channel *channel);
/* reason NULL: it was done. */
uint16_t lm1_write_result(char *out, uint16_t size, uint16_t topic_length, uint32_t id, const char *reason);
/* One plain number (profile P). */
uint16_t lm1_write_plain(char *out, uint16_t size, uint16_t topic_length, lm1_value value);

/*
 * A whole number that is a member of a small flat object from the hub, such as "n" of {"b":12,"n":345}. False when it
 * is not there, is no whole number from 0 to 4294967295, or the payload is no such object: then do nothing.
 */
bool lm1_read_number(const char *payload, uint16_t length, const char *member, uint32_t *number);
/* The same for a short text, such as "do" of a command; text gets a NUL. False when it does not fit. */
bool lm1_read_text(const char *payload, uint16_t length, const char *member, char *text, uint8_t size);

/* Seconds since boot out of a 32-bit millisecond counter that wraps after 49.7 days (LM-13). Start with zeros. */
typedef struct {
  uint32_t last_ms;
  uint16_t rest_ms;
  uint32_t seconds;
} lm1_uptime;
/* Call at least once in 49 days. */
uint32_t lm1_seconds(lm1_uptime *uptime, uint32_t now_ms);
/* Counts sleep in, which no millisecond counter sees. */
void lm1_slept(lm1_uptime *uptime, uint32_t seconds);

#endif
