/*
 * Writes what the vectors show, one a line: name, tab, topic, tab, payload. Run on a computer by the project's tests,
 * which hold each line to vectors/valid; lines whose name begins with '!' must have been refused.
 */
#include <stdio.h>
#include <string.h>

#include "lm1.h"

static char topic[64];
static char out[256];
static uint16_t at;

static const lm1_value NONE = {0, 0, true};
static lm1_value value(int32_t digits, uint8_t decimals) {
  lm1_value v = {0, 0, false};
  v.digits = digits;
  v.decimals = decimals;
  return v;
}

static void to(const char *leaf, const char *channel) { at = lm1_topic(topic, sizeof topic, "bed3a", leaf, channel); }

static void show(const char *name, uint16_t length) {
  const bool kept = length > 0u && strlen(out) == length;
  printf("%s\t%s\t%s\n", name, topic, kept ? out : "refused");
}

static void readings(void) {
  const char *five[] = {"phmv", "ph", "m1", "st", "bat"};
  const lm1_value values[] = {value(106, 1), value(682, 2), value(1873, 0), value(1825, 2), value(392, 2)};
  const char *two[] = {"phmv", "m1"};
  const lm1_value cold[] = {value(-125, 1), value(1870, 0)};
  const lm1_value spreads[] = {value(3, 1), NONE};
  const char *electrode[] = {"phmv", "st"};
  const lm1_value failed[] = {value(104, 1), NONE};
  const char *eight[] = {"phmv", "ph", "m1", "m2", "st1", "st2", "bat", "rssi"};
  const lm1_value eights[] = {value(10, 1), value(2, 0), value(3, 0), value(4, 0), value(5, 0), value(6, 0), value(7, 0), value(-71, 0)};
  const char *one[] = {"m1"};
  const lm1_value small[] = {value(1873, 0)};
  const lm1_value zero[] = {value(0, 3)};
  const lm1_value unit[] = {value(1, 0)};
  const lm1_value much[] = {value(1000000001, 0)};
  const char *twice[] = {"m1", "m1"};
  const char *capital[] = {"M1"};
  lm1_reading r = {12, 345, 86460, 0, 0, 5, five, values, NULL};
  to("up/r", NULL);
  show("reading-five-channels", lm1_write_reading(out, sizeof out, at, &r));

  r = (lm1_reading){12, 347, 88260, 1780000000, LM1_UNSETTLED + LM1_WETTED, 2, two, cold, spreads};
  show("reading-all-members", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){12, 346, 87360, 0, 0, 2, electrode, failed, NULL};
  show("reading-failed-sensor", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){12, 351, 91860, 0, 0, 8, eight, eights, NULL};
  show("reading-eight-channels", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){4294967294, 4294967295, 4294967295, 4294967295, 0, 1, one, zero, NULL};
  show("reading-largest-counters", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){12, 350, 90960, 1577836800, 0, 1, one, unit, NULL};
  show("reading-first-possible-time", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){1, 0, 3, 0, 0, 1, one, small, NULL};
  show("reading-smallest", lm1_write_reading(out, sizeof out, at, &r));

  show("!too large for the buffer", lm1_write_reading(out, 30, at, &r));
  show("!no buffer at all", lm1_write_reading(out, 0, at, &r));
  show("!too large with its topic", lm1_write_reading(out, sizeof out, 220, &r));
  show("!no topic", lm1_write_reading(out, sizeof out, 0, &r));
  r.epoch = 86400;
  show("!a clock that was never set", lm1_write_reading(out, sizeof out, at, &r));
  r.epoch = 0;
  r.boot = UINT32_MAX;
  show("!a boot of all ones", lm1_write_reading(out, sizeof out, at, &r));
  r.boot = 1;
  r.flags = 32;
  show("!a flag that is none", lm1_write_reading(out, sizeof out, at, &r));
  r.flags = 0;
  r.values = much;
  show("!a value over 1e9", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){1, 0, 3, 0, 0, 2, twice, values, NULL};
  show("!a channel twice", lm1_write_reading(out, sizeof out, at, &r));
  r = (lm1_reading){1, 0, 3, 0, 0, 1, capital, values, NULL};
  show("!a capital in a channel", lm1_write_reading(out, sizeof out, at, &r));
  r.channels = 0;
  show("!no channel", lm1_write_reading(out, sizeof out, at, &r));

  at = lm1_topic(topic, sizeof topic, "a2345678901234567890123", "up/r", NULL);
  r = (lm1_reading){12, 345, 86460, 0, 0, 1, one, small, NULL};
  show("reading-longest-id", lm1_write_reading(out, sizeof out, at, &r));
  at = lm1_topic(topic, sizeof topic, "ab1", "up/r", NULL);
  show("reading-shortest-id", lm1_write_reading(out, sizeof out, at, &r));
}

static void batches(void) {
  const char *three[] = {"phmv", "m1", "st"};
  const lm1_value usual[] = {value(106, 1), value(1873, 0), value(1825, 2)};
  const lm1_value second[] = {value(106, 1), NONE, value(183, 1)};
  const char *one[] = {"m1"};
  const char *electrode[] = {"phmv"};
  const lm1_value wet[] = {value(1873, 0)};
  const lm1_value wetter[] = {value(1870, 0)};
  const lm1_value five[] = {value(5, 0)};
  const lm1_value six[] = {value(6, 0)};
  const lm1_value decimals[] = {{1, 10, false}};
  lm1_row rows[9];
  lm1_batch b = {12, 12, 90000, 3, three, 2, rows};
  uint8_t taken;
  uint8_t i;
  to("up/b", NULL);
  rows[0] = (lm1_row){346, 86520, usual};
  rows[1] = (lm1_row){347, 87420, second};
  show("batch-two-rows", lm1_write_batch(out, sizeof out, at, &b, &taken));
  b.row = &rows[1];
  rows[1] = (lm1_row){346, 86520, usual};
  rows[2] = (lm1_row){345, 87420, usual};
  show("!newest first", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[2] = (lm1_row){347, 90001, usual};
  show("!a row after the sending", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[2] = (lm1_row){347, 86519, usual};
  show("!uptime that falls", lm1_write_batch(out, sizeof out, at, &b, &taken));
  b.row = rows;

  /* Nine are held; six fit, and the caller is told. */
  for (i = 0; i < 9u; i++) rows[i] = (lm1_row){346u + i, 86520u + 900u * i, usual};
  b = (lm1_batch){12, 12, 99000, 3, three, 9, rows};
  show("batch-six-by-three", lm1_write_batch(out, sizeof out, at, &b, &taken));
  printf("taken\t\t%u\n", (unsigned)taken);

  rows[0] = (lm1_row){346, 86520, usual};
  b = (lm1_batch){11, 12, 40, 1, electrode, 1, rows};
  show("batch-earlier-boot", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[0] = (lm1_row){4294967295, 4294967295, five};
  b = (lm1_batch){12, 12, 4294967295, 1, one, 1, rows};
  show("batch-large-counters", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[0] = (lm1_row){0, 0, wet};
  b.uptime = 90000;
  show("batch-one-row", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[0] = (lm1_row){1, 80, five};
  rows[1] = (lm1_row){2, 80, six};
  b.rows = 2;
  show("batch-same-second", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[0] = (lm1_row){346, 86520, wet};
  rows[1] = (lm1_row){349, 89220, wetter};
  show("batch-with-a-hole", lm1_write_batch(out, sizeof out, at, &b, &taken));
  rows[1].values = decimals;
  show("!a row with ten decimals", lm1_write_batch(out, sizeof out, at, &b, &taken));
  b.rows = 0;
  show("!no rows", lm1_write_batch(out, sizeof out, at, &b, &taken));
}

static void descriptions(void) {
  const char *five[] = {"phmv", "ph", "m1", "st", "bat"};
  const char *one[] = {"m1"};
  lm1_birth birth = {"ex 0.3.1", "avr328+w5500", NULL, 12, 4, 900, 5, five, 5, 0};
  lm1_channel c = {"ph.emf", "mV", NULL, {0, 0, true}, {0, 0, true}, NULL, {0, 0, true}, {0, 0, true}, {625, 4, false}, {15, 2, false}, NULL, 0};
  to("up/birth", NULL);
  show("birth", lm1_write_birth(out, sizeof out, at, &birth));
  birth = (lm1_birth){"ex 0.3.1", NULL, "C+B", 12, 4, 900, 1, one, 0, 96};
  show("birth-buffered", lm1_write_birth(out, sizeof out, at, &birth));
  birth = (lm1_birth){"\302\265probe 1", NULL, NULL, 12, 4, 900, 1, one, 0, 0};
  show("birth-utf8", lm1_write_birth(out, sizeof out, at, &birth));
  birth.firmware = "twenty-five characters ab";
  show("!a name of 25 characters", lm1_write_birth(out, sizeof out, at, &birth));
  birth.firmware = "two\nlines";
  show("!a name of two lines", lm1_write_birth(out, sizeof out, at, &birth));
  birth.firmware = "a \"b\" \\c";
  show("+quoted", lm1_write_birth(out, sizeof out, at, &birth));
  birth.interval = 9;
  show("!an interval of nine seconds", lm1_write_birth(out, sizeof out, at, &birth));

  to("up/ch", "phmv");
  show("channel-electrode", lm1_write_channel(out, sizeof out, at, &c));
  c = (lm1_channel){"ph", "pH", "phmv", {-581, 1, false}, {702, 2, false}, "st", {0, 0, true}, {0, 0, true}, {0, 0, true}, {0, 0, true}, NULL, 5};
  to("up/ch", "ph");
  show("channel-derived-ph", lm1_write_channel(out, sizeof out, at, &c));
  c = (lm1_channel){"moist.raw", "count", NULL, {0, 0, true}, {0, 0, true}, NULL, {0, 0, false}, {4095, 0, false}, {0, 0, true}, {15, 2, false}, NULL, 0};
  to("up/ch", "m1");
  show("channel-moisture", lm1_write_channel(out, sizeof out, at, &c));
  c = (lm1_channel){"temp.soil", "Cel", NULL, {0, 0, true}, {0, 0, true}, NULL, {0, 0, true}, {0, 0, true}, {0, 0, true}, {15, 2, false}, "28ff641d92160411", 0};
  to("up/ch", "st");
  show("channel-temperature", lm1_write_channel(out, sizeof out, at, &c));
  c.unit = NULL;
  show("!a channel without a unit", lm1_write_channel(out, sizeof out, at, &c));
}

static void states(void) {
  to("up/state", NULL);
  show("state-on", lm1_write_on(out, sizeof out, at, 12, 4));
  show("state-will", lm1_write_off(out, sizeof out, at, 12));
  show("state-sleep", lm1_write_sleep(out, sizeof out, at, 12, 90010, 900));
  show("!a sleep of nine seconds", lm1_write_sleep(out, sizeof out, at, 12, 90010, 9));
  to("up/res", NULL);
  show("result-done", lm1_write_result(out, sizeof out, at, 17, NULL));
  show("result-refused", lm1_write_result(out, sizeof out, at, 5, "iv"));
  to("up/v", "ph");
  show("plain-number", lm1_write_plain(out, sizeof out, at, value(682, 2)));
  to("up/v", "phmv");
  show("plain-negative", lm1_write_plain(out, sizeof out, at, value(-1250, 2)));
  to("up/v", "st");
  show("plain-failed", lm1_write_plain(out, sizeof out, at, NONE));
  printf("!an id in capitals\t\t%s\n", lm1_topic(topic, sizeof topic, "Bed3a", "up/r", NULL) == 0u ? "refused" : topic);
  printf("!an id that is taken\t\t%s\n", lm1_topic(topic, sizeof topic, "hub", "up/r", NULL) == 0u ? "refused" : topic);
  printf("!an id of two letters\t\t%s\n", lm1_topic(topic, sizeof topic, "ab", "up/r", NULL) == 0u ? "refused" : topic);
}

/* What the hub sends: '=' and the payload, then what was read of it. */
static void downlinks(void) {
  static const char *const payloads[] = {
      "{\"b\":12,\"n\":345}", "{\"t\":1780000000}", " { \"n\" : 4294967295 , \"b\":0}\n", "{\"n\":4294967296}", "{\"n\":-1}",
      "{\"n\":1.5}", "{\"n\":\"7\"}", "{\"n\":012}", "{\"n\":345", "{\"n\":345}x", "{\"n\":{\"n\":1}}", "[345]", "", "{}",
      "{\"id\":17,\"do\":\"resend\",\"b\":12,\"n\":346,\"k\":15}", "{\"do\":\"a\\\"b\",\"n\":1}", "{\"nn\":1}", "{\"n\":}",
  };
  uint8_t i;
  for (i = 0; i < sizeof payloads / sizeof *payloads; i++) {
    uint32_t n = 7;
    char word[8] = "-";
    const uint16_t length = (uint16_t)strlen(payloads[i]);
    const bool number = lm1_read_number(payloads[i], length, "n", &n);
    const bool text = lm1_read_text(payloads[i], length, "do", word, sizeof word);
    printf("=%s\t%s\t%s\n", strchr(payloads[i], '\n') != NULL ? "(blanks)" : payloads[i], text ? word : "-", "");
    if (number) printf("n\t\t%lu\n", (unsigned long)n);
    else printf("n\t\tnothing\n");
  }
}

static void clock_runs(void) {
  lm1_uptime u = {0, 0, 0};
  uint32_t ms = 0;
  uint32_t hours;
  /* 60 days in steps of 59 minutes 59.7 seconds: over the wrap of the millisecond counter. */
  for (hours = 0; hours < 1440u; hours++) {
    ms += 3599700u;
    (void)lm1_seconds(&u, ms);
  }
  printf("uptime\t\t%lu\n", (unsigned long)u.seconds);
  lm1_slept(&u, 900);
  printf("slept\t\t%lu\n", (unsigned long)lm1_seconds(&u, ms));
}

int main(void) {
  readings();
  batches();
  descriptions();
  states();
  downlinks();
  clock_runs();
  return 0;
}
