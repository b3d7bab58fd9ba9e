/* A source put together field by field: the address it gives, which field is at fault, and that the openers of cell/source.h hold the same
 * ranges. Outside: Modbus application protocol 1.1b3 (65,536 registers) with Modbus over serial line 1.02, 2.2 (a device on a line is 1
 * to 247), RFC 6335 (ports end at 65,535). */
#include "cell/source_here.h"
#include "base/number.h"
#include "unit.h"
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

static ew_node *parsed(const char *yaml) {
  GError *error = NULL;
  ew_node *root = ew_node_parse("typed", yaml, strlen(yaml), &error);
  if (!root)
    fail_msg("%s: %s", yaml, error->message);
  return root;
}

/* "field: says" of each fault, one a line. */
static char *faults_of(const GPtrArray *faults) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < faults->len; i++) {
    const struct ew_source_fault *f = faults->pdata[i];
    g_string_append_printf(text, "%s: %s\n", f->field, f->says);
  }
  return g_string_free(text, FALSE);
}

#define RPM "rows: [{name: RPM, unit: rpm, address: 0}]"
static const struct {
  const char *kind, *typed, *rows, *url;
} good[] = {
    {"practice", "{}", NULL, "practice:?rate=100"},
    {"practice", "rate: 20 Hz", NULL, "practice:?rate=20"},
    {"tcp", "{host: 192.0.2.7, port: 5000}", NULL, "tcp://192.0.2.7:5000"},
    {"tcp", "{host: '[2001:db8::7]', port: 1}", NULL, "tcp://[2001:db8::7]:1"},
    {"tcp", "{host: '  logger  ', port: ' 65535 '}", NULL, "tcp://logger:65535"},
    {"udp", "port: 7000", NULL, "udp://0.0.0.0:7000"},
    {"udp", "{port: 7000, from: '192.0.2.7:99'}", NULL, "udp://0.0.0.0:7000?from=192.0.2.7:99"},
    {"serial", "device: /dev/ttyUSB0", NULL, "serial:/dev/ttyUSB0?baud=115200"},
    {"file", "path: /home/cell/a day.csv", NULL, "file:/home/cell/a day.csv"},
    {"file", "{path: /home/cell/a.csv, at_end: stop}", NULL, "file:/home/cell/a.csv?end=stop"},
    {"replay", "{recording: 12, speed: 2.5}", NULL, "replay:/b.book#12?speed=2.5"},
    {"modbus", "host: 192.0.2.7", RPM, "modbus://192.0.2.7:502/1?map=/m%20p.yaml&every=0.1"},
    {"modbus", "{host: a, unit: 0, every: 60 s, any_unit: yes}", RPM,
     "modbus://a:502/0?map=/m%20p.yaml&every=60&anyunit=yes"},
    {"modbus-rtu", "{device: /dev/ttyS1, unit: 247, every: 1 ms}", RPM,
     "modbus-rtu:/dev/ttyS1?map=/m%20p.yaml&every=0.001&unit=247&baud=19200"},
    {"can", "interface: can0", "rows: [{name: RPM, id: 256}]", "can:can0?map=/m%20p.yaml"},
    {"mqtt", "{host: a, topic: cell/lines}", NULL, "mqtt://a:1883/cell/lines"},
    {"mqtt", "host: a", "rows: [{name: RPM, topic: cell/rpm}]", "mqtt://a:1883/?map=/m%20p.yaml"},
};

static void gives_the_address(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(good); i++) {
    g_autoptr(ew_node) typed = parsed(good[i].typed);
    g_autoptr(ew_node) rows = parsed(good[i].rows ? good[i].rows : "rows: []");
    g_autoptr(GPtrArray) faults = ew_source_faults_new();
    g_autofree char *url =
        ew_source_form_url(ew_source_form_of(good[i].kind), typed, ew_node_member(rows, "rows"),
                           "/m p.yaml", "/b.book", faults);
    g_autofree char *found = faults_of(faults);
    expect(g_strcmp0(url, good[i].url) == 0, good[i].url, "%s", url ? url : found);
  }
}

static const struct {
  const char *kind, *typed, *rows,
      *says; /* "field|field": each begins a line, and no other line is there */
} bad[] = {
    {"tcp", "{}", NULL, "host|port"},
    {"tcp", "{host: 192.0.2.7, port: 0}", NULL, "port"},
    {"tcp", "{host: 192.0.2.7, port: 65536}", NULL, "port"},
    {"tcp", "{host: 192.0.2.7, port: nan}", NULL, "port"},
    {"tcp", "{host: 'a?b', port: 1}", NULL, "host"},
    {"tcp", "{host: 'a/b', port: 1}", NULL, "host"},
    {"tcp", "{host: 'a:b', port: 1}", NULL, "host"},
    {"tcp", "{host: '   ', port: 1}", NULL, "host"},
    {"tcp", "{host: \"a\\x1b\", port: 1}", NULL, "host"},
    {"modbus", "{host: '[::1]'}", RPM, "host"},
    {"udp", "{address: 'a/b', port: 70000}", NULL, "port|address"},
    {"serial", "device: /etc/passwd", NULL, "device"},
    {"serial", "device: /dev/../etc/passwd", NULL, "device"},
    {"serial", "{device: /dev/ttyS0, baud: 7}", NULL, "baud"},
    {"file", "path: a.csv", NULL, "path"},
    {"file", "path: /home/../etc/a.csv", NULL, "path"},
    {"file", "path: /dev/zero", NULL, "path"},
    {"file", "path: /proc/self/mem", NULL, "path"},
    {"file", "{path: '/a?end=stop', at_end: never}", NULL, "at_end|path"},
    {"replay", "{recording: 0, speed: 101}", NULL, "recording|speed"},
    {"replay", "{recording: -1, speed: nan}", NULL, "recording|speed"},
    {"practice", "rate: 0.5 Hz", NULL, "rate"},
    {"practice", "rate: 100", NULL, "rate"}, /* no unit */
    {"modbus", "host: a", NULL, "rows"},
    {"modbus", "{host: a, unit: 256, every: 61 s}", RPM, "unit|every"},
    {"modbus-rtu", "{device: /dev/ttyS1, unit: 248}", RPM, "unit"},
    {"modbus", "host: a", "rows: [{unit: rpm}, {name: T, address: 65536, kind: kinds}]",
     "0.name|1.address|1.kind"},
    {"modbus", "host: a", "rows: [{name: T, address: 65535, type: int32}]", "0.address"},
    {"can", "interface: can0", "rows: [{name: RPM, id: 4096}]", "0.id"},
    {"can", "interface: 'can 0'", "rows: [{name: RPM, length: 33}]", "interface|0.length"},
    {"can", "interface: can0", "rows: [RPM, [RPM]]", "0.name|1.name"},
    {"mqtt", "host: a", NULL, "topic"},
    {"mqtt", "{host: a, topic: b}", "rows: [{name: RPM, topic: cell/rpm}]", "topic"},
    {"mqtt", "host: a", "rows: [{name: RPM}]", "0.topic"},
    {"mqtt", "host: a", "rows: [{name: RPM, topic: a, timeout: 0 s}]", "0.timeout"},
};

static void says_each_fault_at_its_field(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
    g_autoptr(ew_node) typed = parsed(bad[i].typed);
    g_autoptr(ew_node) rows = parsed(bad[i].rows ? bad[i].rows : "rows: []");
    g_autoptr(GPtrArray) faults = ew_source_faults_new();
    g_autofree char *url = ew_source_form_url(ew_source_form_of(bad[i].kind), typed,
                                              ew_node_member(rows, "rows"), "/m", "/b", faults);
    g_autofree char *found = faults_of(faults);
    g_auto(GStrv) want = g_strsplit(bad[i].says, "|", -1);
    g_autoptr(GString) fields = g_string_new(NULL);
    for (guint k = 0; k < faults->len; k++)
      g_string_append_printf(fields, "%s%s", k ? "|" : "",
                             ((struct ew_source_fault *)faults->pdata[k])->field);
    expect(url == NULL && strcmp(fields->str, bad[i].says) == 0, bad[i].typed, "%s", found);
  }
}

/* Both ends of what the form allows open, and one beyond opens neither here nor there. */
static const struct {
  const char *kind, *field, *low, *high, *beyond,
      *opened; /* `opened`: an address with the figure for %s */
} ends[] = {
    {"modbus", "unit", "0", "255", "256", "modbus://127.0.0.1:502/%s?map=MAP"},
    {"modbus", "every", "1 ms", "60 s", "61 s", "modbus://127.0.0.1:502/1?map=MAP&every=%s"},
    {"modbus-rtu", "unit", "1", "247", "248", "modbus-rtu:/dev/ttyS9?map=MAP&unit=%s"},
    {"practice", "rate", "1 Hz", "10000 Hz", "10001 Hz", "practice:?rate=%s"},
    {"serial", "baud", "9600", "921600", "921601", "serial:/dev/ttyS9?baud=%s"},
    {"mqtt", "port", "1", "65535", "65536", "mqtt://127.0.0.1:%s/a"},
};

static char *figure(const char *text) {
  double value = g_ascii_strtod(text, NULL);
  char written[G_ASCII_DTOSTR_BUF_SIZE];
  if (g_str_has_suffix(text, " ms"))
    value /= 1000;
  return g_strdup(g_ascii_formatd(written, sizeof written, "%.9g", value));
}

static gboolean opens(const char *form, const char *text, const char *map) {
  g_autofree char *value = figure(text);
  g_auto(GStrv) parts = g_strsplit(form, "%s", 2);
  g_autofree char *with = g_strjoin(NULL, parts[0], value, parts[1], NULL);
  g_auto(GStrv) halves = g_strsplit(with, "MAP", 2);
  g_autofree char *url =
      halves[1] ? g_strjoin(NULL, halves[0], map, halves[1], NULL) : g_strdup(with);
  g_autoptr(ew_source) source = ew_source_open(url, NULL);
  return source != NULL;
}

static gboolean forms(const char *kind, const char *field, const char *text) {
  g_autofree char *yaml =
      g_strdup_printf("{host: a, device: /dev/ttyS9, topic: a, %s: %s}", field, text);
  g_autoptr(ew_node) typed = parsed(yaml), rows = parsed(RPM);
  g_autoptr(GPtrArray) faults = ew_source_faults_new();
  const struct ew_node *list = strcmp(kind, "mqtt") == 0 ? NULL : ew_node_member(rows, "rows");
  g_autofree char *url =
      ew_source_form_url(ew_source_form_of(kind), typed, list, "/m", "/b", faults);
  return url != NULL;
}

static void holds_the_openers_ranges(void **state) {
  (void)state;
  g_autofree char *map = g_build_filename(g_get_tmp_dir(), "enginewright-source-form.yaml", NULL);
  assert_true(g_file_set_contents(map, "registers:\n  - {name: RPM, unit: rpm}\n", -1, NULL));
  for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
    expect(opens(ends[i].opened, ends[i].low, map) &&
               forms(ends[i].kind, ends[i].field, ends[i].low),
           ends[i].kind, "%s", ends[i].low);
    expect(opens(ends[i].opened, ends[i].high, map) &&
               forms(ends[i].kind, ends[i].field, ends[i].high),
           ends[i].kind, "%s", ends[i].high);
    expect(!opens(ends[i].opened, ends[i].beyond, map), ends[i].kind, "the opener takes more");
    expect(!forms(ends[i].kind, ends[i].field, ends[i].beyond), ends[i].kind,
           "the form takes more");
  }
  remove(map);
}

/* What the form keeps is a map that the opener reads, and back as it was typed. */
static void keeps_a_map(void **state) {
  (void)state;
  static const char yaml[] =
      "rows: [{name: 'Oil: #1', unit: bar, address: 10, type: float32, order: cdab, scale: 0.001}, "
      "{name: RPM, unit: rpm, kind: input, offset: -3}]";
  g_autoptr(ew_node) rows = parsed(yaml);
  const struct ew_source_form *form = ew_source_form_of("modbus");
  g_autofree char *text = ew_source_form_map(form, ew_node_member(rows, "rows"));
  g_autoptr(ew_node) root = parsed(text);
  g_autoptr(ew_bus_map) map = ew_bus_map_read(root, "map", "registers", NULL);
  assert_non_null(map);
  const struct ew_bus_row *oil = &g_array_index(map->rows, struct ew_bus_row, 0);
  assert_string_equal(oil->name, "Oil: #1");
  assert_true(oil->address == 10 && oil->type == EW_REGISTER_FLOAT32 &&
              oil->order == EW_ORDER_CDAB);
  assert_true(oil->scale == 0.001);
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open_array(&json, "rows");
  assert_true(ew_source_form_rows(form, text, &json, NULL));
  ew_json_close_array(&json);
  assert_non_null(strstr(json.text->str, "\"order\":\"cdab\""));
  g_string_free(json.text, TRUE);
}

/* What this machine sees at once, at its field; what is well here says nothing. 192.0.2.9: RFC 5737, of no machine. */
static const struct {
  const char *kind, *typed, *field; /* NULL: nothing is wrong */
} here[] = {
    {"serial", "device: /dev/ttyUSB77", "device"},
    {"serial", "device: ' /dev/null '", "device"},
    {"modbus-rtu", "device: /dev/ttyUSB77", "device"},
    {"can", "interface: can77", "interface"},
    {"can", "interface: lo", NULL}, /* there, whatever it is: its opener says what it is not */
    {"file", "path: /no such folder/a.csv", "path"},
    {"file", "path: /tmp", "path"},
    {"file", "path: /tmp/not there yet.csv", NULL},
    {"udp", "{address: 192.0.2.9, port: 5000}", "address"},
    {"udp", "{address: 127.0.0.1, port: PORT}", "port"},
    {"udp", "{address: 127.0.0.1, port: PORT, from: 192.0.2.7}", "port"},
    {"tcp", "{host: 192.0.2.9, port: 5000}", NULL},
    {"mqtt", "{host: 192.0.2.9, topic: a}", NULL},
    {"practice", "{}", NULL},
};

static void sees_what_is_not_here(void **state) {
  (void)state;
  struct sockaddr_in taken = {.sin_family = AF_INET, .sin_addr = {htonl(INADDR_LOOPBACK)}};
  socklen_t size = sizeof taken;
  int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  assert_int_equal(bind(fd, (struct sockaddr *)&taken, sizeof taken), 0);
  assert_int_equal(getsockname(fd, (struct sockaddr *)&taken, &size), 0);
  g_autofree char *port = g_strdup_printf("%d", ntohs(taken.sin_port));
  for (gsize i = 0; i < G_N_ELEMENTS(here); i++) {
    g_auto(GStrv) parts = g_strsplit(here[i].typed, "PORT", 2);
    g_autofree char *text = g_strjoinv(port, parts);
    g_autoptr(ew_node) typed = parsed(text);
    g_autoptr(GPtrArray) faults = ew_source_faults_new();
    ew_source_here(ew_source_form_of(here[i].kind), typed, faults);
    g_autofree char *found = faults_of(faults);
    g_autofree char *begins = g_strdup_printf("%s: ", here[i].field ? here[i].field : "");
    expect(here[i].field ? faults->len == 1 && g_str_has_prefix(found, begins) : faults->len == 0,
           here[i].typed, "%s", found);
  }
  close(fd);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(gives_the_address),        cmocka_unit_test(says_each_fault_at_its_field),
      cmocka_unit_test(holds_the_openers_ranges), cmocka_unit_test(keeps_a_map),
      cmocka_unit_test(sees_what_is_not_here),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
