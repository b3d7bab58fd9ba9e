/* The Modbus source, and the coil of a shut-down, against a server built on libmodbus's own server side. */
#include "near.h"
#include "cell/outputs.h"
#include "cell/source.h"
#include "heard.h"
#include <glib/gstdio.h>
#include <errno.h>
#include <modbus.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

struct server {
  modbus_t *bus;
  modbus_mapping_t *map;
  int listener, port;
  gint stop, answer; /* atomic */
  GThread *thread;
};

static gpointer serve(gpointer user) {
  struct server *s = user;
  while (!g_atomic_int_get(&s->stop)) {
    struct pollfd door = {s->listener, POLLIN, 0};
    if (poll(&door, 1, 50) <= 0)
      continue;
    if (modbus_tcp_accept(s->bus, &s->listener) < 0)
      continue;
    while (!g_atomic_int_get(&s->stop)) {
      guint8 query[MODBUS_TCP_MAX_ADU_LENGTH];
      struct pollfd line = {modbus_get_socket(s->bus), POLLIN, 0};
      if (poll(&line, 1, 50) <= 0)
        continue;
      int size = modbus_receive(s->bus, query);
      if (size < 0)
        break;
      if (size > 0 && g_atomic_int_get(&s->answer))
        modbus_reply(s->bus, query, size, s->map);
    }
    modbus_close(s->bus);
  }
  return NULL;
}

static void set_whole(guint16 *registers, int at, gint32 value) {
  MODBUS_SET_INT32_TO_INT16(registers, at, value);
}

static void start(struct server *s) {
  *s = (struct server){.answer = 1};
  for (s->port = 15020 + (int)(getpid() % 2000); !s->bus || s->listener < 0; s->port++) {
    if (s->bus)
      modbus_free(s->bus);
    s->bus = modbus_new_tcp("127.0.0.1", s->port);
    s->listener = modbus_tcp_listen(s->bus, 1);
    if (s->listener >= 0)
      break;
  }
  s->map = modbus_mapping_new(16, 16, 64, 64);
  s->map->tab_input_registers[0] = 12000;           /* RPM, a quarter each */
  s->map->tab_registers[4] = (guint16)(gint16)-250; /* -2.5 */
  /* IEEE 754: 4.125 is 4084 0000, -273.5 is C388 C000, 88.25 is 42B0 8000, 0.88f is 3F61 47AE; Modbus
   * sends the high byte of a register first, and devices differ in the rest */
  static const guint16 reals[] = {0x4084, 0x0000, 0x00C0, 0x88C3, 0xB042, 0x0080, 0x47AE, 0x3F61};
  memcpy(&s->map->tab_registers[10], reals, sizeof reals);
  set_whole(s->map->tab_registers, 40, -123456);
  s->map->tab_bits[3] = 1;
  s->thread = g_thread_new("server", serve, s);
}

static void finish(struct server *s) {
  g_atomic_int_set(&s->stop, 1);
  g_thread_join(s->thread);
  close(s->listener);
  modbus_mapping_free(s->map);
  modbus_close(s->bus);
  modbus_free(s->bus);
}

static const char *const registers =
    "registers:\n"
    "  - {name: RPM, unit: rpm, address: 0, kind: input, type: uint16, scale: 0.25}\n"
    "  - {name: A, address: 4, type: int16, scale: 0.01}\n"
    "  - {name: B, address: 10, type: float32, order: abcd}\n"
    "  - {name: C, address: 12, type: float32, order: dcba}\n"
    "  - {name: D, address: 14, type: float32, order: badc}\n"
    "  - {name: E, address: 16, type: float32, order: cdab}\n"
    "  - {name: F, address: 40, type: int32, offset: 0.5}\n"
    "  - {name: G, address: 3, kind: coil}\n";

static void turn(struct ew_source *source, struct heard *h, guint rows, const char *until) {
  struct ew_source_sink sink = {head, frame, event, h};
  for (int i = 0; i < 2000 && (h->rows < rows || (until && !strstr(h->events->str, until))); i++) {
    ew_source_read(source, &sink, ew_monotonic_s());
    struct pollfd one = {source->fd, POLLIN, 0};
    poll(&one, 1, 5);
  }
}

static void test_registers(void **state) {
  (void)state;
  struct server server;
  start(&server);
  g_autofree char *path =
      g_strdup_printf("%s/ew-registers-%d.yaml", g_get_tmp_dir(), (int)getpid());
  assert_true(g_file_set_contents(path, registers, -1, NULL));
  g_autofree char *url =
      g_strdup_printf("modbus://127.0.0.1:%d/1?map=%s&every=0.005", server.port, path);
  g_autoptr(GError) error = NULL;
  struct ew_source *source = ew_source_open(url, &error);
  if (!source)
    fail_msg("%s", error->message);
  struct heard h = {.events = g_string_new(NULL)};
  turn(source, &h, 5, NULL);
  assert_true(h.rows >= 5);
  const double want[] = {3000, -2.5, 4.125, -273.5, 88.25, (double)0.88f, -123455.5, 1};
  for (int i = 0; i < 8; i++)
    assert_near(h.values[i], want[i], 1e-12);
  g_atomic_int_set(&server.answer, 0); /* a silent device */
  turn(source, &h, 0, "lost");
  assert_non_null(strstr(h.events->str, "lost"));
  g_atomic_int_set(&server.answer, 1);
  guint before = h.rows;
  turn(source, &h, before + 3, NULL);
  assert_true(h.rows >= before + 3); /* it comes back */
  ew_source_close(source);
  finish(&server);
  g_string_free(h.events, TRUE);
  g_unlink(path);
}

static void says(const char *name, gboolean done, const ew_message *why, gpointer user) {
  (void)why;
  g_string_append_printf(user, "%s %d;", name, done);
}
static gboolean no_line(const char *line, gpointer user) {
  (void)line, (void)user;
  return FALSE;
}

static void test_coil_of_a_shut_down(void **state) {
  (void)state;
  struct server server;
  start(&server);
  g_autofree char *yaml = g_strdup_printf(
      "outputs:\n"
      "  - {name: ignition, kind: coil, to: \"modbus://127.0.0.1:%d/1/coil/5\", on: yes}\n"
      "  - {name: load, kind: coil, to: \"modbus://127.0.0.1:%d/1/coil/3\", on: no, "
      "speed_below: 500 rpm, releases_load: yes}\n",
      server.port, server.port);
  struct ew_alarm_context unknown = {NAN, NAN, NAN, NAN, NAN};
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), &error);
  g_autoptr(ew_alarm_table) table = ew_alarm_table_read(root, "t", &unknown, &error);
  if (!table)
    fail_msg("%s", error->message);
  g_autoptr(GString) said = g_string_new(NULL);
  struct ew_outputs *o = ew_outputs_new(no_line, says, said);
  ew_outputs_use(o, table->outputs);
  ew_outputs_ask(o);
  ew_outputs_step(o, 0, 5000);
  for (int i = 0; i < 400 && !server.map->tab_bits[5]; i++)
    g_usleep(5000);
  assert_int_equal(server.map->tab_bits[5], 1);
  assert_int_equal(server.map->tab_bits[3], 1); /* the load is still on */
  ew_outputs_step(o, 0, 400);
  ew_outputs_free(o);
  assert_int_equal(server.map->tab_bits[3], 0);
  assert_string_equal(said->str, "ignition 1;load 1;");
  finish(&server);
}

static void test_refusals(void **state) {
  (void)state;
  static const char *const refused[] = {"modbus://127.0.0.1/1?map=x", "modbus://127.0.0.1:502/1",
                                        "modbus://127.0.0.1:502/1?map=/nowhere.yaml",
                                        "modbus-rtu:/dev/null?unit=0&map=x"};
  for (gsize i = 0; i < G_N_ELEMENTS(refused); i++)
    assert_null(ew_source_open(refused[i], NULL));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_registers),
                                     cmocka_unit_test(test_coil_of_a_shut_down),
                                     cmocka_unit_test(test_refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
