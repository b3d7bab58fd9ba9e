/* CAN signals against hand-packed frames, over a socket pair that stands in for the kernel's CAN socket:
 * machines without CAN can test all but the socket itself. Where the kernel has an interface 'vcan0'
 * the real socket is tested too; else that is skipped. Bit numbering after the kernel's frame layout
 * (linux/can.h) and the common description of signals by start bit and byte order. */
#include "near.h"
#include "cell/source_can.h"
#include "heard.h"
#include <glib/gstdio.h>
#include <linux/can.h>
#include <net/if.h>
#include <sys/socket.h>
#include <unistd.h>

static const char *const signals =
    "signals:\n"
    "  - {name: RPM, unit: rpm, id: 256, start: 0, length: 16, scale: 0.25}\n"
    "  - {name: Oil temp, unit: degC, id: 256, start: 16, length: 8, signed: yes}\n"
    "  - {name: Torque, unit: N.m, id: 256, start: 39, length: 16, order: big, signed: yes, scale: "
    "0.1}\n"
    "  - {name: Lambda, id: 419385600, extended: yes, start: 4, length: 12, scale: 0.001}\n"
    "  - {name: Page 2, id: 512, start: 8, length: 8, page: 2}\n"
    "  - {name: Twelve, id: 512, start: 19, length: 12, order: big}\n";

static struct ew_bus_map *map_of(const char *yaml, GError **error) {
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), error);
  return root ? ew_bus_map_read(root, "t", "signals", error) : NULL;
}

static void put(int fd, guint32 id, const guint8 *data, guint8 size) {
  struct can_frame f = {.can_id = id, .len = size};
  memcpy(f.data, data, size);
  assert_int_equal(write(fd, &f, sizeof f), sizeof f);
}
#define PUT(fd, id, ...)                                                                           \
  put(fd, id, (const guint8[]){__VA_ARGS__}, sizeof((const guint8[]){__VA_ARGS__}))

static void test_signals(void **state) {
  (void)state;
  int pair[2];
  g_autoptr(GError) error = NULL;
  assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
  struct ew_bus_map *map = map_of(signals, &error);
  if (!map)
    fail_msg("%s", error->message);
  struct ew_source *source = ew_source_can(pair[0], map);
  struct heard h = {.events = g_string_new(NULL)};
  struct ew_source_sink sink = {head, frame, event, &h};
  PUT(pair[1], 419385600u | CAN_EFF_FLAG, 0x05, 0x37); /* bits 4..15: 0x370 = 880 */
  PUT(pair[1], 512, 2, 77, 0x0a, 0xbc);                /* 19 down: 0xa then 0xbc = 0xabc */
  PUT(pair[1], 512, 3, 99, 0, 0x01);                   /* another page; twelve is now 1 */
  PUT(pair[1], 256, 0xe0, 0x2e, 0xf6, 0, 0x0b, 0xb8);  /* 12000, -10, 3000 */
  ew_source_read(source, &sink, ew_monotonic_s());
  assert_int_equal(h.rows, 1);
  assert_near(h.values[0], 3000, 0);
  assert_near(h.values[1], -10, 0);
  assert_near(h.values[2], 300, 1e-12);
  assert_near(h.values[3], 0.88, 1e-12);
  assert_near(h.values[4], 77, 0);
  assert_near(h.values[5], 1, 0);
  PUT(pair[1], 256, 0, 0, 0, 0, 0xff, 0xff); /* torque -0.1 */
  ew_source_read(source, &sink, ew_monotonic_s());
  assert_near(h.values[2], -0.1, 1e-12);
  PUT(pair[1], 256, 1, 0);      /* too short for torque and oil: absent at once */
  PUT(pair[1], 0x7f0, 1, 2, 3); /* nobody's */
  PUT(pair[1], CAN_ERR_FLAG | 4, 0, 0);
  assert_int_equal(write(pair[1], "short", 5), 5);
  ew_source_read(source, &sink, ew_monotonic_s());
  assert_int_equal(h.rows, 3);
  assert_near(h.values[0], 0.25, 0);
  assert_true(isnan(h.values[1]) && isnan(h.values[2]));
  assert_string_equal(h.events->str, "garbage,");
  close(pair[1]);
  ew_source_read(source, &sink, ew_monotonic_s());
  assert_true(source->ended);
  ew_source_close(source);
  g_string_free(h.events, TRUE);
}

/* 20,000 frames of anything: no row but those of the first id, and nothing breaks. */
static void test_rubbish(void **state) {
  (void)state;
  int pair[2];
  assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET, 0, pair), 0);
  struct ew_source *source = ew_source_can(pair[0], map_of(signals, NULL));
  struct heard h = {.events = g_string_new(NULL)};
  struct ew_source_sink sink = {head, frame, event, &h};
  g_autoptr(GRand) random = g_rand_new_with_seed(3);
  guint expected = 0;
  for (int i = 0; i < 20000; i++) {
    struct can_frame f;
    for (gsize k = 0; k < sizeof f; k++)
      ((guint8 *)&f)[k] = (guint8)g_rand_int(random);
    if (i % 7 == 0)
      f.can_id = 256;
    expected += f.can_id == 256 && f.len <= 8;
    assert_int_equal(write(pair[1], &f, sizeof f), sizeof f);
    ew_source_read(source, &sink, ew_monotonic_s());
  }
  assert_int_equal(h.rows, expected);
  close(pair[1]);
  ew_source_close(source);
  g_string_free(h.events, TRUE);
}

static void test_real_socket(void **state) {
  (void)state;
  if (if_nametoindex("vcan0") == 0) {
    print_message("this kernel has no vcan0: the real CAN socket is not tested\n");
    skip();
  }
  g_autofree char *path = g_strdup_printf("%s/ew-signals-%d.yaml", g_get_tmp_dir(), (int)getpid());
  g_autofree char *url = g_strdup_printf("can:vcan0?map=%s", path);
  g_autoptr(GError) error = NULL;
  assert_true(g_file_set_contents(path, signals, -1, NULL));
  struct ew_source *source = ew_source_open(url, &error);
  if (!source)
    fail_msg("%s", error->message);
  ew_source_close(source);
  g_unlink(path);
}

static void test_refusals(void **state) {
  (void)state;
  static const char *const refused[] = {"signals: [{id: 3}]", "signals: [{name: a, id: 4096}]",
                                        "signals: [{name: a, id: 1, length: 40}]", "signals: []",
                                        "registers: []"};
  for (gsize i = 0; i < G_N_ELEMENTS(refused); i++)
    assert_null(map_of(refused[i], NULL));
  assert_null(ew_source_open("can:nothing0?map=/nowhere", NULL));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_signals), cmocka_unit_test(test_rubbish),
                                     cmocka_unit_test(test_real_socket),
                                     cmocka_unit_test(test_refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
