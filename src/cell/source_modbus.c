/* Modbus, TCP and RTU, by libmodbus in a thread of its own: registers that stand together are read
 * together, all of them every `every` seconds; a silent device is reported and tried again.
 *
 * An answer that is wrong in any part breaks the connection and is counted: what comes after it
 * cannot be trusted to belong to the next question. libmodbus compares neither the unit nor the length of
 * a TCP header, and takes a protocol number with one byte of 0; so over TCP the questions are written here
 * and each answer is held against its question whole: transaction, protocol, length, unit, function and
 * count (Modbus messaging on TCP/IP 1.0b, 3.1.3; the application protocol 1.1b3, 6.1 to 6.4). A gateway
 * that answers under another unit is named with anyunit=yes. What no header can tell: whether the
 * device's own figures are fresh; that shows only in a row that stays the same (cell/stillness). */
#include "base/error.h"
#include "cell/bus_map.h"
#include "cell/bus_queue.h"
#include "cell/source_kinds.h"
#include "cell/source_why.h"
#include <errno.h>
#include <math.h>
#include <modbus.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>

#define ANSWER_MS    200
#define AGAIN_S      0.5
#define TOGETHER     100 /* registers of one request */
#define HOLES        8   /* unused ones that may stand between */
#define ROWS_WAITING 20000
#define HEADER       7 /* bytes of TCP before the function */

struct request {
  int kind, address, count;
};

struct modbus_source {
  struct ew_source base;
  struct ew_bus_map *map;
  struct ew_bus_queue *queue;
  GArray *requests; /* struct request */
  modbus_t *bus;
  double every_s;
  gint stopping; /* atomic */
  int unit;
  guint16 transaction;
  gboolean any_unit; /* TCP: a gateway answers under another */
  gboolean serial, headed, connected, told;
  GThread *thread;
};

static int words(const struct ew_bus_row *row) {
  return row->kind >= EW_REGISTER_COIL || row->type <= EW_REGISTER_UINT16 ? 1 : 2;
}

static gint by_place(gconstpointer a, gconstpointer b) {
  const struct ew_bus_row *x = *(const struct ew_bus_row *const *)a,
                          *y = *(const struct ew_bus_row *const *)b;
  return x->kind != y->kind ? x->kind - y->kind : x->address - y->address;
}

static GArray *plan(const struct ew_bus_map *map) {
  GArray *requests = g_array_new(FALSE, FALSE, sizeof(struct request));
  g_autoptr(GPtrArray) rows = g_ptr_array_new();
  for (guint i = 0; i < map->rows->len; i++)
    g_ptr_array_add(rows, &g_array_index(map->rows, struct ew_bus_row, i));
  g_ptr_array_sort(rows, by_place);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_bus_row *row = g_ptr_array_index(rows, i);
    struct request *last =
        requests->len ? &g_array_index(requests, struct request, requests->len - 1) : NULL;
    int end = row->address + words(row);
    if (last && last->kind == row->kind && row->address <= last->address + last->count + HOLES &&
        end - last->address <= TOGETHER) {
      last->count = MAX(last->count, end - last->address);
      continue;
    }
    struct request one = {row->kind, row->address, words(row)};
    g_array_append_val(requests, one);
  }
  for (guint i = 0; i < requests->len; i++) {
    const struct request *one = &g_array_index(requests, struct request, i);
    g_assert(one->count > 0 && one->count <= TOGETHER && one->address + one->count <= 65536);
  }
  return requests;
}

static int function_of(enum ew_register_kind kind) {
  switch (kind) {
  case EW_REGISTER_HOLDING: return MODBUS_FC_READ_HOLDING_REGISTERS;
  case EW_REGISTER_INPUT: return MODBUS_FC_READ_INPUT_REGISTERS;
  case EW_REGISTER_COIL: return MODBUS_FC_READ_COILS;
  case EW_REGISTER_DISCRETE: return MODBUS_FC_READ_DISCRETE_INPUTS;
  }
  g_assert_not_reached();
}

static guint16 word_at(const guint8 *bytes) {
  return (guint16)(bytes[0] << 8 | bytes[1]);
}

/* Whether this is the answer to that question, in every part; `got` bytes. */
static gboolean answers(const struct modbus_source *s, const guint8 *q, const guint8 *a, int got,
                        int payload) {
  if (got < HEADER + 2 || word_at(a) != word_at(q) || word_at(a + 2) != 0 ||
      word_at(a + 4) != got - 6 || (a[6] != q[6] && !s->any_unit)) {
    errno = EMBBADDATA;
    return FALSE;
  }
  if (a[7] == (q[7] | 0x80)) { /* the device says why not */
    errno = MODBUS_ENOBASE + a[8];
    return FALSE;
  }
  errno = EMBBADDATA;
  return a[7] == q[7] && a[8] == payload && got == HEADER + 2 + payload;
}

static int ask_tcp(struct modbus_source *s, const struct request *r, guint16 *into) {
  gboolean bits = r->kind >= EW_REGISTER_COIL;
  int payload = bits ? (r->count + 7) / 8 : 2 * r->count;
  guint16 number = ++s->transaction, at = (guint16)r->address, count = (guint16)r->count;
  const guint8 q[] = {(guint8)(number >> 8),
                      (guint8)number,
                      0,
                      0,
                      0,
                      6,
                      (guint8)s->unit,
                      (guint8)function_of((enum ew_register_kind)r->kind),
                      (guint8)(at >> 8),
                      (guint8)at,
                      (guint8)(count >> 8),
                      (guint8)count};
  guint8 a[MODBUS_TCP_MAX_ADU_LENGTH];
  if (send(modbus_get_socket(s->bus), q, sizeof q, MSG_NOSIGNAL) != sizeof q)
    return -1;
  int got = modbus_receive_confirmation(s->bus, a);
  if (got < 0 || !answers(s, q, a, got, payload))
    return -1;
  for (int i = 0; i < r->count; i++)
    into[i] =
        bits ? (guint16)(a[HEADER + 2 + i / 8] >> (i % 8) & 1) : word_at(a + HEADER + 2 + 2 * i);
  return r->count;
}

static int ask(struct modbus_source *s, const struct request *q, guint16 *into) {
  guint8 bits[TOGETHER + 2];
  int got = -1;
  g_assert(q->count <= TOGETHER);
  if (!s->serial)
    return ask_tcp(s, q, into);
  switch ((enum ew_register_kind)q->kind) {
  case EW_REGISTER_HOLDING: return modbus_read_registers(s->bus, q->address, q->count, into);
  case EW_REGISTER_INPUT: return modbus_read_input_registers(s->bus, q->address, q->count, into);
  case EW_REGISTER_COIL: got = modbus_read_bits(s->bus, q->address, q->count, bits); break;
  case EW_REGISTER_DISCRETE:
    got = modbus_read_input_bits(s->bus, q->address, q->count, bits);
    break;
  }
  for (int i = 0; i < got; i++)
    into[i] = bits[i];
  return got;
}

static gboolean read_all(struct modbus_source *s, double *values) {
  guint16 registers[TOGETHER + 2];
  for (guint k = 0; k < s->requests->len; k++) {
    const struct request *q = &g_array_index(s->requests, struct request, k);
    if (ask(s, q, registers) != q->count)
      return FALSE;
    for (guint i = 0; i < s->map->rows->len; i++) {
      const struct ew_bus_row *row = &g_array_index(s->map->rows, struct ew_bus_row, i);
      int at = row->address - q->address; /* never a pointer beyond the array, even in between */
      if (row->kind == q->kind && at >= 0 && at + words(row) <= q->count)
        values[i] = ew_bus_register_value(row, registers + at);
    }
  }
  return TRUE;
}

/* The time that is left is asked for once: it may be over by the second look. */
static void nap(struct modbus_source *s, double until_s) {
  double left_s;
  while (!g_atomic_int_get(&s->stopping) && (left_s = until_s - ew_monotonic_s()) > 0)
    g_usleep((gulong)(1e6 * CLAMP(left_s, 0.0001, 0.02)));
}

EW_MESSAGE(is_open, "cell.modbus-connected", EW_NOTE, "{to}");

EW_MESSAGE(
    no_answer, "cell.modbus-no-answer", EW_CAUTION,
    "the device does not answer; see to its wiring, and that the number of the device is right");
EW_MESSAGE(no_answer_line, "cell.modbus-line-no-answer", EW_CAUTION,
           "the device does not answer; see to its wiring, and that the number of the device and "
           "the speed "
           "of the line are right");
EW_MESSAGE(no_register, "cell.modbus-no-register", EW_CAUTION,
           "the device has none at one of these addresses; see to the list of channels");
EW_MESSAGE(no_function, "cell.modbus-no-function", EW_CAUTION,
           "the device does not give this kind of register; see to the list of channels");

/* In our words where a person at the cell can do something about it. */
static ew_message *of_bus(const struct modbus_source *s, int error) {
  if (error == EMBXILADD)
    return ew_message_plain(&no_register);
  if (error == EMBXILFUN)
    return ew_message_plain(&no_function);
  if (error == ETIMEDOUT && s->connected)
    return ew_message_plain(s->serial ? &no_answer_line : &no_answer);
  if (error < MODBUS_ENOBASE)
    return s->serial ? ew_source_why_device(error) : ew_source_why_peer(error);
  return ew_message(&ew_source_error, ew_say_text("error", modbus_strerror(error)));
}

static void lose(struct modbus_source *s) {
  g_assert(s->every_s > 0);
  int error = errno;
  if (s->connected)
    ew_bus_queue_rubbish(s->queue, of_bus(s, error));
  if (!s->told)
    ew_bus_queue_event(s->queue, EW_SOURCE_LOST, of_bus(s, error));
  s->told = TRUE;
  modbus_close(s->bus);
  s->connected = FALSE;
  nap(s, ew_monotonic_s() + MIN(s->every_s, AGAIN_S));
}

static gpointer work(gpointer user) {
  struct modbus_source *s = user;
  g_autofree double *values = g_new0(double, s->map->rows->len);
  double next_s = ew_monotonic_s();
  while (!g_atomic_int_get(&s->stopping)) {
    if (!s->connected) {
      s->connected = modbus_connect(s->bus) == 0;
      if (!s->connected) {
        lose(s);
        nap(s, ew_monotonic_s() + AGAIN_S);
        continue;
      }
      if (s->serial) /* a new TCP connection holds nothing old, and a flood has no end */
        modbus_flush(s->bus);
      next_s = ew_monotonic_s();
    }
    if (!read_all(s, values)) {
      lose(s);
      continue;
    }
    double now = ew_monotonic_s();
    if (s->told || !s->headed)
      ew_bus_queue_event(
          s->queue, EW_SOURCE_CONNECTED,
          ew_message(&is_open, ew_say_text("to", s->base.url ? s->base.url : "Modbus")));
    s->told = FALSE;
    s->headed = TRUE;
    ew_bus_queue_row(s->queue, now, now, values);
    next_s = MAX(next_s + s->every_s, now - s->every_s);
    nap(s, next_s);
  }
  return NULL;
}

static void modbus_source_close(struct ew_source *base) {
  struct modbus_source *s = (struct modbus_source *)base;
  g_atomic_int_set(&s->stopping, 1);
  if (s->thread)
    g_thread_join(s->thread);
  if (s->bus) {
    modbus_close(s->bus);
    modbus_free(s->bus);
  }
  if (s->requests)
    g_array_unref(s->requests);
  ew_bus_queue_free(s->queue);
  ew_bus_map_free(s->map);
  g_free(s);
}

static void modbus_source_read(struct ew_source *base, const struct ew_source_sink *sink,
                               double now_s) {
  struct modbus_source *s = (struct modbus_source *)base;
  (void)now_s;
  if (!s->thread) { /* channels are announced before the first row can come */
    sink->head(sink->user, &s->map->channels);
    s->thread = g_thread_new("modbus", work, s);
  }
  base->wake_s = INFINITY;
  ew_bus_queue_drain(s->queue, sink);
}

static struct ew_source *begin(struct modbus_source *s, const char *rest, int unit,
                               GError **error) {
  g_autofree char *map = ew_url_option(rest, "map"), *any = ew_url_option(rest, "anyunit");
  s->base.fd = -1;
  s->unit = unit;
  s->any_unit = any && strcmp(any, "yes") == 0;
  s->map = ew_bus_map_file(map, "registers", error);
  if (s->map && ew_url_number(rest, "every", 0.1, 0.001, 60, &s->every_s, error) && s->bus) {
    modbus_set_slave(s->bus, unit);
    modbus_set_response_timeout(s->bus, 0, ANSWER_MS * 1000);
    modbus_set_byte_timeout(s->bus, 0, 0); /* that time is for the whole answer, drop by drop */
    s->requests = plan(s->map);
    s->queue = ew_bus_queue_new(s->map->rows->len, ROWS_WAITING);
    s->base.fd = ew_bus_queue_fd(s->queue);
    return &s->base;
  }
  if (error && !*error)
    ew_refuse(error, "%s: %s", rest, modbus_strerror(errno));
  modbus_source_close(&s->base);
  return NULL;
}

static struct ew_source *modbus_tcp_open(const char *rest, GError **error) {
  char host[128];
  int port, unit;
  if (sscanf(rest, "//%127[^:/]:%d/%d", host, &port, &unit) != 3 || port < 1 || port > 65535 ||
      unit < 0 || unit > 255) {
    ew_refuse(error, "write modbus://HOST:PORT/UNIT?map=FILE");
    return NULL;
  }
  struct modbus_source *s = g_new0(struct modbus_source, 1);
  s->bus = modbus_new_tcp(host, port);
  return begin(s, rest, unit, error);
}
const struct ew_source_class ew_source_class_modbus = {"modbus",
                                                       "modbus://HOST:PORT/UNIT?map=FILE&every=0.1",
                                                       "registers of a Modbus TCP device",
                                                       modbus_tcp_open,
                                                       modbus_source_read,
                                                       NULL,
                                                       modbus_source_close};

static struct ew_source *modbus_rtu_open(const char *rest, GError **error) {
  double baud, unit;
  const char *query = strchr(rest, '?');
  g_autofree char *device = query ? g_strndup(rest, (gsize)(query - rest)) : g_strdup(rest);
  if (!ew_url_number(rest, "baud", 19200, 1200, 921600, &baud, error) ||
      !ew_url_number(rest, "unit", 1, 1, 247, &unit, error))
    return NULL;
  struct modbus_source *s = g_new0(struct modbus_source, 1);
  s->serial = TRUE;
  s->bus = modbus_new_rtu(device, (int)baud, 'E', 8, 1);
  return begin(s, rest, (int)unit, error);
}
const struct ew_source_class ew_source_class_modbus_rtu = {
    "modbus-rtu",
    "modbus-rtu:/dev/DEVICE?map=FILE&unit=1&baud=19200",
    "registers of a Modbus RTU device, 8E1",
    modbus_rtu_open,
    modbus_source_read,
    NULL,
    modbus_source_close};
