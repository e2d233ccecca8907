#include "lm1.h"

/* What is being written: `used` counts on past the end, so that one test at the end finds every overflow. */
typedef struct {
  char *out;
  uint16_t size;
  uint16_t used;
  bool broken;
} text;

static void put(text *t, char c) {
  if ((uint32_t)t->used + 1u < t->size) t->out[t->used] = c;
  else t->broken = true;
  if (t->used < UINT16_MAX) t->used++;
}

static void put_all(text *t, const char *s) {
  while (*s != '\0') put(t, *s++);
}

static void put_number(text *t, uint32_t n) {
  char digit[10];
  uint8_t count = 0;
  do {
    digit[count++] = (char)('0' + n % 10u);
    n /= 10u;
  } while (n > 0u);
  while (count > 0u) put(t, digit[--count]);
}

static uint32_t size_of(lm1_value v) {
  return v.digits < 0 ? 0u - (uint32_t)v.digits : (uint32_t)v.digits;
}

/* A value is at most 1e9 (LM-10). */
static bool is_value(lm1_value v) {
  return v.failed || (v.decimals <= 9u && (v.decimals > 0u || size_of(v) <= 1000000000u));
}

static void put_value(text *t, lm1_value v) {
  uint32_t size = size_of(v);
  uint32_t unit = 1;
  uint8_t i;
  if (v.failed) {
    put_all(t, "null");
    return;
  }
  if (!is_value(v)) {
    t->broken = true;
    return;
  }
  /* Zeros behind the point say nothing and cost bytes. */
  while (v.decimals > 0u && size % 10u == 0u) {
    size /= 10u;
    v.decimals--;
  }
  for (i = 0; i < v.decimals; i++) unit *= 10u;
  if (v.digits < 0 && size > 0u) put(t, '-');
  put_number(t, size / unit);
  if (v.decimals == 0u) return;
  put(t, '.');
  while (unit > 1u) {
    unit /= 10u;
    put(t, (char)('0' + size / unit % 10u));
  }
}

/* Text in quotes; control characters have no business in a name. */
static void put_quoted(text *t, const char *s) {
  put(t, '"');
  for (; *s != '\0'; s++) {
    if ((unsigned char)*s < 0x20u) t->broken = true;
    if (*s == '"' || *s == '\\') put(t, '\\');
    put(t, *s);
  }
  put(t, '"');
}

/* ,"name": with the comma only where something stands before it. */
static void put_member(text *t, const char *name) {
  if (t->used > 0u && t->out[t->used - 1u] != '{') put(t, ',');
  put_quoted(t, name);
  put(t, ':');
}

static void put_counted(text *t, const char *name, uint32_t n) {
  put_member(t, name);
  put_number(t, n);
}

static void put_named(text *t, const char *name, const char *s) {
  if (s == 0) return;
  put_member(t, name);
  put_quoted(t, s);
}

static void put_measured(text *t, const char *name, lm1_value v) {
  if (v.failed) return;
  put_member(t, name);
  put_value(t, v);
}

static text begin(char *out, uint16_t size) {
  text t;
  t.out = out;
  t.size = size;
  t.used = 0;
  t.broken = size == 0u;
  return t;
}

static uint16_t end(text *t, uint16_t topic_length) {
  if (t->broken || topic_length == 0u || (uint32_t)topic_length + t->used > LM1_LIMIT) {
    if (t->size > 0u) t->out[0] = '\0';
    return 0;
  }
  t->out[t->used] = '\0';
  return t->used;
}

/* A letter first, then letters and digits, all lower case. */
static bool is_name(const char *s, uint8_t least, uint8_t most) {
  uint8_t length = 0;
  for (; s[length] != '\0'; length++) {
    const char c = s[length];
    const bool letter = c >= 'a' && c <= 'z';
    if (length == most || !(letter || (length > 0u && c >= '0' && c <= '9'))) return false;
  }
  return length >= least;
}

static bool same(const char *a, const char *b) {
  while (*a != '\0' && *a == *b) {
    a++;
    b++;
  }
  return *a == *b;
}

static bool are_channels(const char *const *names, uint8_t count, uint8_t most) {
  uint8_t i;
  uint8_t j;
  if (count == 0u || count > most) return false;
  for (i = 0; i < count; i++) {
    if (!is_name(names[i], 1, 8)) return false;
    for (j = 0; j < i; j++) {
      if (same(names[i], names[j])) return false;
    }
  }
  return true;
}

uint16_t lm1_topic(char *out, uint16_t size, const char *id, const char *leaf, const char *channel) {
  text t = begin(out, size);
  if (!is_name(id, 3, 23) || same(id, "hub") || same(id, "test") || same(id, "pair")) t.broken = true;
  if (channel != 0 && !is_name(channel, 1, 8)) t.broken = true;
  put_all(&t, "lm1/");
  put_all(&t, id);
  put(&t, '/');
  put_all(&t, leaf);
  if (channel != 0) {
    put(&t, '/');
    put_all(&t, channel);
  }
  return end(&t, 1);
}

static void put_values(text *t, const char *name, uint8_t count, const char *const *names, const lm1_value *values, bool all) {
  uint8_t i;
  put_member(t, name);
  put(t, '{');
  for (i = 0; i < count; i++) {
    if (!all && values[i].failed) continue;
    put_member(t, names[i]);
    put_value(t, values[i]);
  }
  put(t, '}');
}

uint16_t lm1_write_reading(char *out, uint16_t size, uint16_t topic_length, const lm1_reading *r) {
  uint8_t i;
  bool spread = false;
  text t = begin(out, size);
  if (!are_channels(r->names, r->channels, LM1_MAX_CHANNELS)) t.broken = true;
  if (r->boot == UINT32_MAX || r->flags > 31u) t.broken = true;
  if (t.broken) return end(&t, topic_length);
  put(&t, '{');
  put_counted(&t, "b", r->boot);
  put_counted(&t, "n", r->number);
  put_counted(&t, "u", r->uptime);
  if (r->epoch > 0u) {
    /* A clock of before 2020 was never set. */
    if (r->epoch < 1577836800u) t.broken = true;
    put_counted(&t, "t", r->epoch);
  }
  if (r->flags > 0u) put_counted(&t, "f", r->flags);
  put_values(&t, "v", r->channels, r->names, r->values, true);
  for (i = 0; r->spreads != 0 && i < r->channels; i++) spread = spread || !r->spreads[i].failed;
  if (spread) put_values(&t, "s", r->channels, r->names, r->spreads, false);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_batch(char *out, uint16_t size, uint16_t topic_length, const lm1_batch *b, uint8_t *taken) {
  uint8_t i;
  uint8_t row;
  text t = begin(out, size);
  *taken = 0;
  if (!are_channels(b->names, b->channels, LM1_MAX_CHANNELS) || b->rows == 0u) t.broken = true;
  if (b->boot == UINT32_MAX || b->present_boot == UINT32_MAX) t.broken = true;
  if (t.broken) return end(&t, topic_length);
  put(&t, '{');
  put_counted(&t, "b", b->boot);
  if (b->present_boot != b->boot) put_counted(&t, "nb", b->present_boot);
  put_counted(&t, "u", b->uptime);
  put_member(&t, "c");
  put(&t, '[');
  for (i = 0; i < b->channels; i++) {
    if (i > 0u) put(&t, ',');
    put_quoted(&t, b->names[i]);
  }
  put(&t, ']');
  put_member(&t, "r");
  put(&t, '[');
  for (row = 0; row < b->rows && row < 50u; row++) {
    const lm1_row *const one = &b->row[row];
    const text before = t;
    bool written = true;
    /* Oldest first, nothing later than now: a probe that breaks this sends nothing. */
    if (row > 0u && (one->number <= one[-1].number || one->uptime < one[-1].uptime)) t.broken = true;
    if (b->present_boot == b->boot && one->uptime > b->uptime) t.broken = true;
    if (t.broken) return end(&t, topic_length);
    if (row > 0u) put(&t, ',');
    put(&t, '[');
    put_number(&t, one->number);
    put(&t, ',');
    put_number(&t, one->uptime);
    for (i = 0; i < b->channels; i++) {
      put(&t, ',');
      put_value(&t, one->values[i]);
      written = written && is_value(one->values[i]);
    }
    put(&t, ']');
    if (!written) {
      t.broken = true;
      break;
    }
    /* Two bytes close the batch, one is the NUL. */
    if (t.broken || (uint32_t)t.used + 3u > t.size || (uint32_t)topic_length + t.used + 2u > LM1_LIMIT) {
      t = before;
      break;
    }
    *taken = (uint8_t)(row + 1u);
  }
  if (*taken == 0u) t.broken = true;
  put_all(&t, "]}");
  if (t.broken) *taken = 0;
  return end(&t, topic_length);
}

static text begin_state(char *out, uint16_t size, const char *state, uint32_t boot) {
  text t = begin(out, size);
  if (boot == UINT32_MAX) t.broken = true;
  put(&t, '{');
  put_named(&t, "s", state);
  put_counted(&t, "b", boot);
  return t;
}

uint16_t lm1_write_on(char *out, uint16_t size, uint16_t topic_length, uint32_t boot, uint32_t uptime) {
  text t = begin_state(out, size, "on", boot);
  put_counted(&t, "u", uptime);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_off(char *out, uint16_t size, uint16_t topic_length, uint32_t boot) {
  text t = begin_state(out, size, "off", boot);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_sleep(char *out, uint16_t size, uint16_t topic_length, uint32_t boot, uint32_t uptime, uint32_t seconds) {
  text t = begin_state(out, size, "sleep", boot);
  if (seconds < 10u || seconds > 86400u) t.broken = true;
  put_counted(&t, "u", uptime);
  put_counted(&t, "nx", seconds);
  put(&t, '}');
  return end(&t, topic_length);
}

/* At most 24 characters; bytes that only continue a UTF-8 character are none. */
static bool is_short(const char *s) {
  uint8_t characters = 0;
  if (s == 0) return true;
  for (; *s != '\0'; s++) {
    if (((unsigned char)*s & 0xc0u) != 0x80u && ++characters > 24u) return false;
  }
  return true;
}

uint16_t lm1_write_birth(char *out, uint16_t size, uint16_t topic_length, const lm1_birth *b) {
  uint8_t i;
  text t = begin(out, size);
  if (!are_channels(b->names, b->channels, 16) || b->firmware == 0) t.broken = true;
  if (b->boot == UINT32_MAX || b->interval < 10u || b->interval > 86400u) t.broken = true;
  if (t.broken || !is_short(b->firmware) || !is_short(b->hardware)) {
    t.broken = true;
    return end(&t, topic_length);
  }
  put(&t, '{');
  put_counted(&t, "p", 1);
  put_named(&t, "fw", b->firmware);
  put_named(&t, "hw", b->hardware);
  put_counted(&t, "b", b->boot);
  put_counted(&t, "u", b->uptime);
  put_counted(&t, "iv", b->interval);
  put_member(&t, "ch");
  put(&t, '"');
  for (i = 0; i < b->channels; i++) {
    if (i > 0u) put(&t, ',');
    put_all(&t, b->names[i]);
  }
  put(&t, '"');
  if (b->settings_version > 0u) put_counted(&t, "cv", b->settings_version);
  if (b->buffer > 0u) put_counted(&t, "buf", b->buffer);
  put_named(&t, "x", b->claims);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_channel(char *out, uint16_t size, uint16_t topic_length, const lm1_channel *c) {
  text t = begin(out, size);
  if (c->quantity == 0 || c->unit == 0) t.broken = true;
  if (t.broken) return end(&t, topic_length);
  put(&t, '{');
  put_named(&t, "q", c->quantity);
  put_named(&t, "u", c->unit);
  put_named(&t, "from", c->from);
  put_measured(&t, "a", c->slope);
  put_measured(&t, "z", c->zero);
  put_named(&t, "tc", c->temperature);
  put_measured(&t, "lo", c->low);
  put_measured(&t, "hi", c->high);
  put_measured(&t, "lsb", c->step);
  put_measured(&t, "d", c->depth);
  put_named(&t, "sn", c->serial);
  if (c->settings_version > 0u) put_counted(&t, "cv", c->settings_version);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_result(char *out, uint16_t size, uint16_t topic_length, uint32_t id, const char *reason) {
  text t = begin(out, size);
  put(&t, '{');
  put_counted(&t, "id", id);
  put_member(&t, "ok");
  put_all(&t, reason == 0 ? "true" : "false");
  put_named(&t, "e", reason);
  put(&t, '}');
  return end(&t, topic_length);
}

uint16_t lm1_write_plain(char *out, uint16_t size, uint16_t topic_length, lm1_value value) {
  text t = begin(out, size);
  put_value(&t, value);
  return end(&t, topic_length);
}

/* Where a reader stands in a payload. */
typedef struct {
  const char *at;
  const char *end;
} cursor;

static void skip_blanks(cursor *c) {
  while (c->at < c->end && (*c->at == ' ' || *c->at == '\t' || *c->at == '\n' || *c->at == '\r')) c->at++;
}

static bool take(cursor *c, char wanted) {
  skip_blanks(c);
  if (c->at == c->end || *c->at != wanted) return false;
  c->at++;
  return true;
}

/* Between two quotes; names and words of the hub have no escapes, so one with a backslash is not for us. */
static bool take_quoted(cursor *c, cursor *inside) {
  if (!take(c, '"')) return false;
  inside->at = c->at;
  while (c->at < c->end && *c->at != '"') {
    if (*c->at == '\\') return false;
    c->at++;
  }
  inside->end = c->at;
  return take(c, '"');
}

/* A number, true, false or null, as it stands. */
static bool take_bare(cursor *c, cursor *inside) {
  skip_blanks(c);
  inside->at = c->at;
  while (c->at < c->end && *c->at != ',' && *c->at != '}' && *c->at != ' ' && *c->at != '\t' && *c->at != '\n' && *c->at != '\r') {
    if (*c->at == '{' || *c->at == '[' || *c->at == '"') return false;
    c->at++;
  }
  inside->end = c->at;
  return inside->at < inside->end;
}

/* The value of a member, and whether it stood in quotes. The whole object must hold together. */
static bool find(const char *payload, uint16_t length, const char *member, cursor *value, bool *quoted) {
  cursor c;
  bool found = false;
  c.at = payload;
  c.end = payload + length;
  if (!take(&c, '{')) return false;
  do {
    cursor name;
    cursor own;
    bool in_quotes;
    const char *m = member;
    if (!take_quoted(&c, &name) || !take(&c, ':')) return false;
    skip_blanks(&c);
    in_quotes = c.at < c.end && *c.at == '"';
    if (!(in_quotes ? take_quoted(&c, &own) : take_bare(&c, &own))) return false;
    while (name.at < name.end && *m != '\0' && *name.at == *m) {
      name.at++;
      m++;
    }
    if (name.at == name.end && *m == '\0') {
      found = true;
      *value = own;
      *quoted = in_quotes;
    }
  } while (take(&c, ','));
  if (!take(&c, '}')) return false;
  skip_blanks(&c);
  return found && c.at == c.end;
}

bool lm1_read_number(const char *payload, uint16_t length, const char *member, uint32_t *number) {
  cursor value;
  bool quoted;
  uint32_t n = 0;
  if (!find(payload, length, member, &value, &quoted) || quoted) return false;
  if (*value.at == '0' && value.end - value.at > 1) return false;
  for (; value.at < value.end; value.at++) {
    const uint32_t digit = (uint32_t)(unsigned char)*value.at - (uint32_t)'0';
    if (digit > 9u || n > 429496729u || (n == 429496729u && digit > 5u)) return false;
    n = n * 10u + digit;
  }
  *number = n;
  return true;
}

bool lm1_read_text(const char *payload, uint16_t length, const char *member, char *out, uint8_t size) {
  cursor value;
  bool quoted;
  if (!find(payload, length, member, &value, &quoted) || !quoted) return false;
  if (value.end - value.at >= (long)size) return false;
  while (value.at < value.end) *out++ = *value.at++;
  *out = '\0';
  return true;
}

uint32_t lm1_seconds(lm1_uptime *u, uint32_t now_ms) {
  /* Unsigned difference: right over the wrap as well. */
  const uint32_t passed = now_ms - u->last_ms;
  const uint32_t rest = u->rest_ms + passed % 1000u;
  u->last_ms = now_ms;
  u->seconds += passed / 1000u + rest / 1000u;
  u->rest_ms = (uint16_t)(rest % 1000u);
  return u->seconds;
}

void lm1_slept(lm1_uptime *u, uint32_t seconds) { u->seconds += seconds; }
