/* Buses with hostile peers: 20,000 wrong, late, cut and foreign answers to the Modbus source over TCP and
 * over a serial line (a pty), as many CAN frames and MQTT messages, and as many maps. Right answers
 * carry one known figure and wrong ones another, so that a wrong one that is taken shows. The frames are
 * built by hand after the Modbus application protocol 1.1b3 and the serial line guide 1.02 (modbus.org);
 * the ordinary RTU device is libmodbus's own server side. */
#include "near.h"
#include "cell/bus_map.h"
#include "cell/bus_queue.h"
#include "cell/source.h"
#include "cell/source_can.h"
#include "cell/source_mqtt.h"
#include <glib/gstdio.h>
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <modbus.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#define INPUTS 20000
#define LINES  4 /* at once */
#define RIGHT  4242
#define WRONG  666

struct heard {
  guint rows, wrong, channels, events, garbage, lost;
  double longest_s; /* one call of the source */
};
static void head(gpointer user, const struct ew_source_channels *channels) {
  ((struct heard *)user)->channels = channels->count;
}
static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct heard *h = user;
  (void)time_s, (void)arrival_s;
  h->rows++;
  h->wrong += values[0] != RIGHT;
}
static void event(gpointer user, enum ew_source_event which, const ew_message *what) {
  struct heard *h = user;
  h->events++;
  h->garbage += which == EW_SOURCE_GARBAGE && ew_message_is(what, &ew_rubbish_counted);
  h->lost += which == EW_SOURCE_LOST;
}

static void read_once(struct ew_source *source, struct heard *h) {
  struct ew_source_sink sink = {head, frame, event, h};
  double before = ew_monotonic_s();
  ew_source_read(source, &sink, before);
  h->longest_s = MAX(h->longest_s, ew_monotonic_s() - before);
}

static char *new_map(void) {
  static int number;
  char *path = g_strdup_printf("%s/ew-fuzz-%d-%d.yaml", g_get_tmp_dir(), (int)getpid(), number++);
  assert_true(g_file_set_contents(
      path, "registers:\n  - {name: RPM, unit: rpm, address: 7, type: uint16}\n", -1, NULL));
  return path;
}

/* ---- one hostile device ---- */

struct device {
  int fd; /* a listening socket, or the master side of a pty */
  gboolean serial;
  gint stop, inputs, right; /* atomic */
  GRand *random;
  GThread *thread;
};

static guint16 crc16(const guint8 *data, gsize size) {
  guint16 crc = 0xffff;
  for (gsize i = 0; i < size; i++) {
    crc ^= data[i];
    for (int b = 0; b < 8; b++)
      crc = crc & 1 ? (guint16)(crc >> 1 ^ 0xa001) : (guint16)(crc >> 1);
  }
  return crc;
}

/* The ways to answer. Those from CUT on leave the source waiting, and so are seldom. */
enum {
  GOOD,
  SHORT_COUNT,
  OTHER_FUNCTION,
  EXCEPTION,
  TOO_MANY,
  OTHER_QUESTION,
  NO_PROTOCOL,
  OTHER_LENGTH,
  OTHER_UNIT,
  HALF_PROTOCOL,
  CLOSED,
  CUT,
  LONG_COUNT,
  ANY_FUNCTION,
  ANYTHING,
  WAYS
};

/* An answer to `q` (unit, function, ...; without header or sum) into `out`, wrong in the way `how`. */
static gsize answer(GRand *random, int how, const guint8 *q, guint8 *out) {
  guint16 value = how == GOOD ? RIGHT : WRONG;
  const guint8 good[] = {q[0], q[1], 2, (guint8)(value >> 8), (guint8)value};
  gsize size = sizeof good;
  memcpy(out, good, size);
  switch (how) {
  case SHORT_COUNT: out[2] = (guint8)(g_rand_int(random) % 2); break;
  case LONG_COUNT: out[2] = (guint8)g_rand_int_range(random, 3, 256); break;
  case OTHER_FUNCTION: out[1] = (guint8)(g_rand_int(random) % 2 ? 4 : 1); break;
  case ANY_FUNCTION: out[1] ^= (guint8)(1 + g_rand_int(random) % 127); break;
  case EXCEPTION: /* known or not */
    out[1] |= 0x80;
    out[2] = (guint8)g_rand_int(random);
    size = 3;
    break;
  case TOO_MANY:
    out[2] = 4;
    out[5] = out[3];
    out[6] = out[4];
    size = 7;
    break;
  case ANYTHING:
    size = 1 + g_rand_int(random) % 250;
    for (gsize i = 0; i < size; i++)
      out[i] = (guint8)g_rand_int(random);
    break;
  default: break;
  }
  return size;
}

static gsize answer_tcp(struct device *d, int how, const guint8 *query, guint8 *out) {
  gsize size = answer(d->random, how, query + 6, out + 6);
  memcpy(out, query, 4);
  if (how == OTHER_QUESTION) /* late, or never asked */
    out[g_rand_int(d->random) % 2] ^= (guint8)(1 + g_rand_int(d->random) % 255);
  if (how == NO_PROTOCOL || how == HALF_PROTOCOL) /* libmodbus takes one with a byte of 0 */
    out[3] = (guint8)(1 + g_rand_int(d->random) % 255);
  if (how == NO_PROTOCOL)
    out[2] = out[3];
  out[4] = (guint8)(size >> 8);
  out[5] = (guint8)size;
  if (how == OTHER_LENGTH) /* libmodbus goes by the count within, and compares no unit */
    out[4 + g_rand_int(d->random) % 2] ^= (guint8)(1 + g_rand_int(d->random) % 255);
  if (how == OTHER_UNIT)
    out[6] ^= (guint8)(1 + g_rand_int(d->random) % 255);
  return size + 6;
}

static gsize answer_serial(struct device *d, int how, const guint8 *query, guint8 *out) {
  gsize size = answer(d->random, how, query, out);
  if (how == OTHER_QUESTION || how == NO_PROTOCOL || how == OTHER_UNIT) /* another device */
    out[0] ^= (guint8)(1 + g_rand_int(d->random) % 255);
  guint16 crc = crc16(out, size);
  if (how == OTHER_LENGTH || how == HALF_PROTOCOL || how == CLOSED ||
      how == ANYTHING) /* disturbed on the way */
    crc ^= (guint16)(1 + g_rand_int(d->random) % 65535);
  out[size] = (guint8)crc;
  out[size + 1] = (guint8)(crc >> 8);
  return size + 2;
}

static gboolean wait_for(int fd) {
  struct pollfd one = {fd, POLLIN, 0};
  return poll(&one, 1, 20) > 0;
}

/* FALSE: the line is to be dropped. */
static gboolean reply(struct device *d, int line, const guint8 *query) {
  guint8 out[300];
  gboolean seldom = g_rand_int(d->random) % 200 == 0;
  int how = seldom ? g_rand_int_range(d->random, CUT, WAYS) : g_rand_int_range(d->random, 0, CUT);
  gboolean right = how == GOOD;
  g_atomic_int_inc(&d->inputs);
  if (right)
    g_atomic_int_inc(&d->right);
  if (how == CLOSED && !d->serial)
    return FALSE;
  gsize size = (d->serial ? answer_serial : answer_tcp)(d, how, query, out);
  if (how == CUT) /* and nothing more */
    size = g_rand_int(d->random) % size;
  return size == 0 || write(line, out, size) == (gssize)size;
}

static void serve_line(struct device *d, int line) {
  guint8 query[512];
  gsize asks = d->serial ? 8 : 12, have = 0;
  while (!g_atomic_int_get(&d->stop)) {
    if (!wait_for(line))
      continue;
    gssize got = read(line, query + have, sizeof query - have);
    if (got <= 0 && !d->serial)
      return;
    have += (gsize)MAX(got, 0);
    if (have < asks)
      continue;
    have = 0;
    if (!reply(d, line, query))
      return;
  }
}

static gpointer serve(gpointer user) {
  struct device *d = user;
  while (!g_atomic_int_get(&d->stop)) {
    if (d->serial) {
      serve_line(d, d->fd);
      continue;
    }
    if (!wait_for(d->fd))
      continue;
    int line = accept(d->fd, NULL, NULL);
    serve_line(d, line);
    close(line);
  }
  return NULL;
}

static char *open_tcp(struct device *d) {
  struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  socklen_t size = sizeof at;
  d->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  assert_int_equal(bind(d->fd, (struct sockaddr *)&at, sizeof at), 0);
  assert_int_equal(listen(d->fd, 8), 0);
  getsockname(d->fd, (struct sockaddr *)&at, &size);
  return g_strdup_printf("modbus://127.0.0.1:%d/1", ntohs(at.sin_port));
}

/* A bare machine may have no pseudo terminals (/dev/pts): then the serial tests are skipped, and say so. */
static void skip_without_ptys(void) {
  int probe = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (probe < 0) {
    print_message("[  SKIPPED ] 1 a serial line: no pseudo terminal here (%s)\n",
                  g_strerror(errno));
    skip();
  }
  close(probe);
}

/* A second file on the other side keeps the line up while the source opens it anew. */
static char *open_pty(struct device *d, int *kept) {
  struct termios raw;
  d->fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
  assert_true(d->fd >= 0 && grantpt(d->fd) == 0 && unlockpt(d->fd) == 0);
  *kept = open(ptsname(d->fd), O_RDWR | O_NOCTTY | O_CLOEXEC);
  assert_true(*kept >= 0 && tcgetattr(*kept, &raw) == 0);
  cfmakeraw(&raw);
  tcsetattr(*kept, TCSANOW, &raw);
  return g_strdup_printf("modbus-rtu:%s", ptsname(d->fd));
}

static struct ew_source *open_source(const char *url, const char *map) {
  g_autoptr(GError) error = NULL;
  g_autofree char *whole = g_strdup_printf("%s?map=%s&every=0.001", url, map);
  struct ew_source *source = ew_source_open(whole, &error);
  if (!source)
    fail_msg("%s", error->message);
  return source;
}

static void hostile(gboolean serial) {
  struct device d[LINES] = {0};
  struct ew_source *sources[LINES];
  struct heard h[LINES] = {0};
  int kept[LINES], inputs = 0, right = 0;
  g_autofree char *map = new_map();
  for (int i = 0; i < LINES; i++) {
    d[i].serial = serial;
    d[i].random = g_rand_new_with_seed((guint32)(40 + i));
    g_autofree char *url = serial ? open_pty(&d[i], &kept[i]) : open_tcp(&d[i]);
    d[i].thread = g_thread_new("device", serve, &d[i]);
    sources[i] = open_source(url, map);
  }
  for (int turn = 0; turn < 200000 && inputs - right < INPUTS; turn++) {
    inputs = right = 0;
    for (int i = 0; i < LINES; i++) {
      read_once(sources[i], &h[i]);
      inputs += g_atomic_int_get(&d[i].inputs);
      right += g_atomic_int_get(&d[i].right);
    }
    g_usleep(1000);
  }
  guint rows = 0;
  for (int i = 0; i < LINES; i++) {
    double before = ew_monotonic_s();
    ew_source_close(sources[i]);
    assert_true(ew_monotonic_s() - before < 2); /* one answer's time, on a busy machine */
    g_atomic_int_set(&d[i].stop, 1);
    g_thread_join(d[i].thread);
    close(d[i].fd);
    if (serial)
      close(kept[i]);
    g_rand_free(d[i].random);
    rows += h[i].rows;
    assert_int_equal(h[i].wrong, 0);
    assert_true(h[i].lost >= 1 && h[i].garbage >= 1); /* shown, with a count, and no flood of it */
    assert_true(h[i].garbage < 200);
    assert_true(h[i].longest_s < 1);
  }
  g_unlink(map);
  print_message("%s: %d hostile answers, %d right ones, %u rows\n", serial ? "RTU" : "TCP",
                inputs - right, right, rows);
  assert_true(inputs - right >= INPUTS);
  assert_true(rows > 100);
}

static void test_modbus_tcp(void **state) {
  (void)state;
  hostile(FALSE);
}
static void test_modbus_rtu_hostile(void **state) {
  (void)state;
  skip_without_ptys();
  hostile(TRUE);
}

/* A peer that gives its answer drop by drop does not hold the source: it goes when it is told to. */
static gpointer drip(gpointer user) {
  struct device *d = user;
  guint8 query[64];
  const guint8 byte = 0;
  int line = accept(d->fd, NULL, NULL);
  gssize got = read(line, query, sizeof query);
  while (got > 0 && !g_atomic_int_get(&d->stop)) {
    if (send(line, &byte, 1, MSG_NOSIGNAL) != 1)
      break;
    g_atomic_int_inc(&d->inputs);
    g_usleep(100000);
  }
  close(line);
  return NULL;
}

static void test_modbus_drop_by_drop(void **state) {
  (void)state;
  struct device d = {0};
  struct heard h = {0};
  g_autofree char *map = new_map(), *url = open_tcp(&d);
  d.thread = g_thread_new("drip", drip, &d);
  struct ew_source *source = open_source(url, map);
  for (int i = 0; i < 5000 && !h.lost; i++) {
    read_once(source, &h);
    g_usleep(1000);
  }
  assert_true(h.lost >= 1);
  assert_true(g_atomic_int_get(&d.inputs) < 40); /* 256 bytes would be 26 s */
  g_atomic_int_set(&d.stop, 1);
  ew_source_close(source);
  g_thread_join(d.thread);
  close(d.fd);
  g_unlink(map);
}

/* ---- an ordinary RTU device ---- */

static gpointer serve_rtu(gpointer user) {
  struct device *d = user;
  modbus_t *bus = modbus_new_rtu("/dev/null", 19200, 'E', 8, 1);
  modbus_mapping_t *map = modbus_mapping_new(4, 4, 16, 16);
  modbus_set_slave(bus, 5);
  modbus_set_socket(bus, d->fd);
  map->tab_registers[7] = RIGHT;
  while (!g_atomic_int_get(&d->stop)) {
    guint8 query[MODBUS_RTU_MAX_ADU_LENGTH];
    if (!wait_for(d->fd))
      continue;
    int size = modbus_receive(bus, query);
    if (size > 0)
      modbus_reply(bus, query, size, map);
  }
  modbus_mapping_free(map);
  modbus_free(bus);
  return NULL;
}

static void test_modbus_rtu(void **state) {
  (void)state;
  skip_without_ptys();
  struct device d = {.serial = TRUE};
  struct heard h = {0};
  int kept;
  g_autofree char *map = new_map(), *line = open_pty(&d, &kept);
  d.thread = g_thread_new("rtu", serve_rtu, &d);
  g_autofree char *url = g_strdup_printf("%s?unit=5&map=%s&every=0.005", line, map);
  g_autoptr(GError) error = NULL;
  struct ew_source *source = ew_source_open(url, &error);
  if (!source)
    fail_msg("%s", error->message);
  for (int i = 0; i < 10000 && h.rows < 20; i++) {
    read_once(source, &h);
    g_usleep(1000);
  }
  assert_true(h.rows >= 20);
  assert_int_equal(h.wrong, 0);
  ew_source_close(source);
  g_atomic_int_set(&d.stop, 1);
  g_thread_join(d.thread);
  close(d.fd);
  close(kept);
  g_unlink(map);
}

/* ---- CAN ---- */

/* What a frame carries, worked out another way: as text of bits. */
static double by_bits(const guint8 *data, guint size, gboolean *there) {
  g_autoptr(GString) bits = g_string_new(NULL); /* lowest first */
  for (guint i = 0; i < 8 * size; i++)
    g_string_append_c(bits, data[i / 8] >> (i % 8) & 1 ? '1' : '0');
  *there = bits->len >= 5 + 13;
  double value = 0;
  for (int i = 12; *there && i >= 0; i--)
    value = 2 * value + (bits->str[5 + i] == '1');
  return value >= 4096 ? value - 8192 : value;
}

struct can_heard {
  guint rows, garbage, told;
  double value;
};
static void can_frame_heard(gpointer user, double time_s, double arrival_s, const double *values) {
  struct can_heard *h = user;
  (void)time_s, (void)arrival_s;
  h->rows++;
  h->value = values[0];
}
static void can_event(gpointer user, enum ew_source_event which, const ew_message *what) {
  struct can_heard *h = user;
  if (which == EW_SOURCE_GARBAGE) {
    h->told++;
    h->garbage += (guint)ew_message_argument(what, "count")->count;
  }
}
static void no_head(gpointer user, const struct ew_source_channels *channels) {
  (void)user, (void)channels;
}

static struct ew_bus_map *map_of(const char *yaml, const char *list) {
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), NULL);
  return root ? ew_bus_map_read(root, "t", list, NULL) : NULL;
}

static void test_can(void **state) {
  (void)state;
  int pair[2];
  assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
  struct ew_source *source = ew_source_can(
      pair[0],
      map_of("signals: [{name: A, id: 291, start: 5, length: 13, signed: yes}]", "signals"));
  struct can_heard h = {.value = NAN};
  struct ew_source_sink sink = {no_head, can_frame_heard, can_event, &h};
  g_autoptr(GRand) random = g_rand_new_with_seed(8);
  guint rows = 0, bad = 0;
  for (int i = 0; i < INPUTS; i++) {
    struct can_frame f;
    for (gsize k = 0; k < sizeof f; k++)
      ((guint8 *)&f)[k] = (guint8)g_rand_int(random);
    gsize size = i % 11 ? sizeof f : 1 + g_rand_int(random) % (sizeof f - 1);
    if (i % 3 == 0)
      f.can_id = 291 | (i % 9 == 0 ? CAN_RTR_FLAG : 0) | (i % 12 == 0 ? CAN_ERR_FLAG : 0);
    if (i % 2)
      f.len = (guint8)(g_rand_int(random) % 12);
    assert_int_equal(write(pair[1], &f, size), (gssize)size);
    gboolean whole = size == sizeof f, there = FALSE,
             ours = whole && !(f.can_id & (CAN_EFF_FLAG | CAN_RTR_FLAG | CAN_ERR_FLAG)) &&
                    (f.can_id & CAN_SFF_MASK) == 291 && f.len <= 8;
    double want = ours ? by_bits(f.data, f.len, &there) : (double)NAN;
    bad += !whole || f.can_id & CAN_ERR_FLAG || (!(f.can_id & CAN_RTR_FLAG) && f.len > 8);
    rows += ours;
    ew_source_read(source, &sink, ew_monotonic_s());
    assert_int_equal(h.rows, rows);
    if (there)
      assert_near(h.value, want, 0);
    else if (ours) /* cut too short for it: absent at once */
      assert_true(isnan(h.value));
  }
  print_message("CAN: %d frames, %u rows, %u bad, told %u times\n", INPUTS, rows, bad, h.told);
  assert_true(h.garbage >= 1 && h.garbage <= bad && h.told < 200);
  close(pair[1]);
  ew_source_close(source);
}

/* ---- maps ---- */

static char *any_word(GRand *random) {
  static const char *const words[] = {"name",   "unit",    "address", "kind", "type",   "order",
                                      "id",     "start",   "length",  "page", "signed", "scale",
                                      "offset", "topic",   "65535",   "-1",   "1e999",  "nan",
                                      "yes",    "float32", "big",     "dcba", "32",     "511",
                                      "0",      "''",      "a",       "~"};
  return g_strdup(words[g_rand_int(random) % G_N_ELEMENTS(words)]);
}

/* Maps of any words: refused, or a map by which any frame is read without harm. */
static void test_maps(void **state) {
  (void)state;
  static const char *const lists[] = {"registers", "signals", "topics"};
  g_autoptr(GRand) random = g_rand_new_with_seed(12);
  guint taken = 0;
  for (int i = 0; i < INPUTS; i++) {
    const char *list = lists[i % 3];
    GString *yaml = g_string_new(NULL);
    g_string_append_printf(yaml, "%s: [{name: a%s", list, i % 3 == 2 ? ", topic: t" : "");
    for (guint k = g_rand_int(random) % 4; k > 0; k--) {
      g_autofree char *key = any_word(random), *value = any_word(random);
      g_string_append_printf(yaml, ", %s: %s", key, value);
    }
    g_string_append(yaml, "}]");
    if (i % 5 == 0)
      yaml->str[g_rand_int(random) % yaml->len] = (char)g_rand_int_range(random, 1, 127);
    g_autoptr(ew_bus_map) map = map_of(yaml->str, list);
    taken += map != NULL;
    for (guint r = 0; map && r < map->rows->len; r++) {
      const struct ew_bus_row *row = &g_array_index(map->rows, struct ew_bus_row, r);
      guint16 registers[2] = {(guint16)g_rand_int(random), (guint16)g_rand_int(random)};
      guint8 data[8];
      for (int k = 0; k < 8; k++)
        data[k] = (guint8)g_rand_int(random);
      double value;
      assert_false(isinf(ew_bus_register_value(row, registers)));
      if (ew_bus_signal_value(row, (guint32)row->id, row->extended, data, g_rand_int(random) % 9,
                              &value))
        assert_false(isinf(value));
    }
    g_string_free(yaml, TRUE);
  }
  print_message("maps: %d, of which %u were taken\n", INPUTS, taken);
  assert_true(taken > 100 && taken < INPUTS);
}

/* ---- MQTT ---- */

struct mqtt_heard {
  guint rows;
  double first, second;
  guint64 garbage;
};
static void mqtt_frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct mqtt_heard *h = user;
  (void)time_s, (void)arrival_s;
  h->rows++;
  h->first = values[0];
  h->second = values[1];
}
static void mqtt_event(gpointer user, enum ew_source_event which, const ew_message *what) {
  struct mqtt_heard *h = user;
  if (which == EW_SOURCE_GARBAGE)
    h->garbage += (gsize)ew_message_argument(what, "count")->count;
}

/* A plain number by the C library's rule, blanks around it, and nothing else. */
static gboolean is_number(const char *text, gsize size, double *value) {
  g_autofree char *copy = g_strndup(text, size);
  if (strlen(copy) != size || size > 64)
    return FALSE;
  g_strstrip(copy);
  for (const char *c = copy; *c; c++)
    if (!strchr("0123456789+-.eE", *c))
      return FALSE;
  char *end;
  *value = g_ascii_strtod(copy, &end);
  return end != copy && !*end && isfinite(*value);
}

static void test_mqtt_figures(void **state) {
  (void)state;
  g_autofree char *path = new_map();
  assert_true(g_file_set_contents(path, "topics: [{name: A, topic: a/b}, {name: B, topic: a/c}]",
                                  -1, NULL));
  g_autofree char *url = g_strdup_printf("mqtt://127.0.0.1:1/?map=%s", path);
  struct ew_source *source = ew_source_open(url, NULL);
  assert_non_null(source);
  struct mqtt_heard h = {.first = NAN, .second = NAN};
  struct ew_source_sink sink = {no_head, mqtt_frame, mqtt_event, &h};
  g_autoptr(GRand) random = g_rand_new_with_seed(31);
  guint rows = 0, numbers = 0;
  for (int i = 0; i < INPUTS; i++) {
    static const char some[] = "0123456789..--eE+ \n\tnaifx,";
    char payload[200];
    gsize size = g_rand_int(random) % (i % 50 ? 6 : sizeof payload);
    for (gsize k = 0; k < size; k++)
      payload[k] = i % 2 ? some[g_rand_int(random) % (sizeof some - 1)] : (char)g_rand_int(random);
    gboolean ours = i % 4 != 0;
    ew_source_mqtt_message(source,
                           ours    ? "a/b"
                           : i % 8 ? "a/B"
                                   : "",
                           payload, size, FALSE, ew_monotonic_s());
    double want;
    gboolean number = is_number(payload, size, &want);
    rows += ours;
    ew_source_read(source, &sink, ew_monotonic_s());
    assert_int_equal(h.rows, rows);
    assert_true(isnan(h.second));
    numbers += ours && number;
    if (ours && number && !isnan(h.first))
      assert_near(h.first, want, 0);
    else if (ours && !number && !isnan(h.first))
      fail_msg("message %d is no number and was taken as %g", i, h.first);
  }
  print_message("MQTT: %d messages, %u rows, %u numbers\n", INPUTS, rows, numbers);
  assert_true(numbers > 500 && h.garbage >= 1);
  ew_source_close(source);
  g_unlink(path);
}

static void test_mqtt_lines(void **state) {
  (void)state;
  struct ew_source *source = ew_source_open("mqtt://127.0.0.1:1/cell", NULL);
  assert_non_null(source);
  struct mqtt_heard h = {0};
  struct ew_source_sink sink = {no_head, mqtt_frame, mqtt_event, &h};
  g_autoptr(GRand) random = g_rand_new_with_seed(32);
  ew_source_mqtt_message(source, "cell", "Time [s],RPM [rpm],Torque [N.m]", 31, TRUE,
                         ew_monotonic_s());
  guint good = 0;
  for (int i = 0; i < INPUTS; i++) {
    char payload[120];
    gsize size = g_rand_int(random) % sizeof payload;
    for (gsize k = 0; k < size; k++)
      payload[k] = (char)g_rand_int(random);
    if (i % 10 == 0) {
      size = (gsize)g_snprintf(payload, sizeof payload, "%d,%d,%d", i, RIGHT, RIGHT);
      good++;
    }
    ew_source_mqtt_message(source, "cell", payload, size, FALSE, ew_monotonic_s());
    ew_source_read(source, &sink, ew_monotonic_s());
  }
  assert_true(h.rows >= good && h.rows < good + 20); /* a random one may be a row of figures */
  assert_true(h.garbage >= 1);
  ew_source_close(source);
}

int main(void) {
  signal(SIGPIPE, SIG_IGN);
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_modbus_tcp),
                                     cmocka_unit_test(test_modbus_rtu_hostile),
                                     cmocka_unit_test(test_modbus_drop_by_drop),
                                     cmocka_unit_test(test_modbus_rtu),
                                     cmocka_unit_test(test_can),
                                     cmocka_unit_test(test_maps),
                                     cmocka_unit_test(test_mqtt_figures),
                                     cmocka_unit_test(test_mqtt_lines)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
