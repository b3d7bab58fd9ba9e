/* The kinds and their fields, and an address from them. Ranges are those of the openers (source_*.c), which read the address again: what
 * is allowed here and refused there would be a fault, and tests/unit/cell/test_source_form.c holds both ends of each range against them.
 *
 * A text goes into the address as it is typed, so that what would end it there ("?", "#", "/" in a host) is refused at its field. */
#include "cell/source_form.h"
#include "base/error.h"
#include "base/language.h"
#include "base/plain.h"
#include "base/words.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

#define ROWS_MOST 200u
#define TEXT_MOST 200u

/* One struct for all kinds: each table names the members that it has. */
struct typed {
  char *host, *address, *device, *path, *interface, *topic, *from;
  int port, unit, baud, recording, at_end, any_unit;
  double every_s, speed, rate_hz;
};

#define AT(member) .offset = offsetof(struct typed, member)
#define TEXT(member)                                                                               \
  .name = #member, .type = EW_FIELD_TEXT, .offset = offsetof(struct typed, member)
#define WHOLE(member, low, high)                                                                   \
  .name = #member, .type = EW_FIELD_INTEGER, .kind = EW_KIND_COUNT,                                \
  .offset = offsetof(struct typed, member), .minimum = low, .maximum = high
#define HOST                                                                                       \
  { TEXT(host), .help = EW_TEXT("name or address of the device"), .example = "192.0.2.7" }
#define DEVICE                                                                                     \
  { TEXT(device), .help = EW_TEXT("the serial line"), .example = "/dev/ttyUSB0" }
#define EVERY                                                                                      \
  {                                                                                                \
    .name = "every", .type = EW_FIELD_QUANTITY, .kind = EW_KIND_TIME, AT(every_s),                 \
    .minimum = 0.001, .maximum = 60, .fallback = "100 ms",                                         \
    .help = EW_TEXT("how often all registers are read")                                            \
  }

static const char *const bauds[] = {"9600",   "19200",  "38400",  "57600", "115200",
                                    "230400", "460800", "921600", NULL};
static const char *const at_ends[] = {"wait", "stop", NULL};

static const struct ew_field practice_fields[] = {
    {.name = "rate",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_FREQUENCY,
     AT(rate_hz),
     .minimum = 1,
     .maximum = 10000,
     .fallback = "100 Hz",
     .help = EW_TEXT("samples a second")},
};
static const struct ew_field tcp_fields[] = {
    HOST,
    {WHOLE(port, 1, 65535), .help = EW_TEXT("its port"), .example = "5000"},
};
static const struct ew_field udp_fields[] = {
    {TEXT(address), .fallback = "0.0.0.0",
     .help = EW_TEXT("of this machine, at which it listens; 0.0.0.0: all of them")},
    {WHOLE(port, 1, 65535), .help = EW_TEXT("port of this machine"), .example = "5000"},
    {TEXT(from), .fallback = "",
     .help = EW_TEXT("the only sender that counts; left empty: the first one heard"),
     .example = "192.0.2.7"},
};
static const struct ew_field serial_fields[] = {
    DEVICE,
    {.name = "baud",
     .type = EW_FIELD_CHOICE,
     AT(baud),
     .choices = bauds,
     .fallback = "115200",
     .help = EW_TEXT("speed of the line, 8N1")},
};
static const struct ew_field file_fields[] = {
    {TEXT(path), .help = EW_TEXT("a file on this machine that a logger writes"),
     .example = "/home/cell/logger/today.csv"},
    {.name = "at_end",
     .type = EW_FIELD_CHOICE,
     AT(at_end),
     .choices = at_ends,
     .fallback = "wait",
     .help = EW_TEXT("wait for more of it, or stop")},
};
static const struct ew_field replay_fields[] = {
    {WHOLE(recording, 1, 2147483647), .help = EW_TEXT("number of the recording in this book"),
     .example = "12"},
    {.name = "speed",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_NUMBER,
     AT(speed),
     .minimum = 1,
     .maximum = 100,
     .fallback = "1",
     .help = EW_TEXT("times as fast as it ran")},
};
static const struct ew_field modbus_fields[] = {
    HOST,
    {WHOLE(port, 1, 65535), .fallback = "502", .help = EW_TEXT("its port")},
    {WHOLE(unit, 0, 255), .fallback = "1", .help = EW_TEXT("number of the device behind it")},
    EVERY,
    {.name = "any_unit",
     .type = EW_FIELD_BOOLEAN,
     AT(any_unit),
     .fallback = "no",
     .help = EW_TEXT("a gateway that answers under another number")},
};
static const struct ew_field modbus_rtu_fields[] = {
    DEVICE,
    {.name = "baud",
     .type = EW_FIELD_CHOICE,
     AT(baud),
     .choices = bauds,
     .fallback = "19200",
     .help = EW_TEXT("speed of the line, 8E1")},
    {WHOLE(unit, 1, 247), .fallback = "1", .help = EW_TEXT("number of the device on the line")},
    EVERY,
};
static const struct ew_field can_fields[] = {
    {TEXT(interface), .help = EW_TEXT("name of the CAN interface"), .example = "can0"},
};
static const struct ew_field mqtt_fields[] = {
    {TEXT(host), .help = EW_TEXT("name or address of the broker"), .example = "192.0.2.7"},
    {WHOLE(port, 1, 65535), .fallback = "1883", .help = EW_TEXT("its port")},
    {TEXT(topic), .fallback = "",
     .help = EW_TEXT("where whole lines are published; left empty: one topic a channel, below"),
     .example = "cell/lines"},
};

#define FORM(id, key, says, rows, lacks)                                                           \
  {                                                                                                \
    key, says,                                                                                     \
        {EW_TEXT("a source"), sizeof(struct typed), id##_fields, G_N_ELEMENTS(id##_fields)}, rows, \
        lacks                                                                                      \
  }
static const struct ew_source_form forms[] = {
    FORM(practice, "practice", EW_TEXT("Practice: an invented engine"), NULL, FALSE),
    FORM(tcp, "tcp", EW_TEXT("Lines over TCP"), NULL, FALSE),
    FORM(udp, "udp", EW_TEXT("Lines in UDP datagrams"), NULL, FALSE),
    FORM(serial, "serial", EW_TEXT("Lines on a serial line"), NULL, FALSE),
    FORM(file, "file", EW_TEXT("A file that a logger writes"), NULL, FALSE),
    FORM(replay, "replay", EW_TEXT("A recording played again"), NULL, FALSE),
    FORM(modbus, "modbus", EW_TEXT("Modbus TCP"), "registers", FALSE),
    FORM(modbus_rtu, "modbus-rtu", EW_TEXT("Modbus RTU on a serial line"), "registers", FALSE),
    FORM(can, "can", EW_TEXT("CAN bus"), "signals", FALSE),
    FORM(mqtt, "mqtt", EW_TEXT("MQTT broker"), "topics", TRUE),
};

const struct ew_source_form *ew_source_form_at(guint place) {
  return place < G_N_ELEMENTS(forms) ? &forms[place] : NULL;
}

const struct ew_source_form *ew_source_form_of(const char *key) {
  for (gsize i = 0; key && i < G_N_ELEMENTS(forms); i++)
    if (strcmp(forms[i].key, key) == 0)
      return &forms[i];
  return NULL;
}

static void free_fault(gpointer data) {
  struct ew_source_fault *fault = data;
  g_free(fault->field);
  g_free(fault->says);
  g_free(fault);
}

GPtrArray *ew_source_faults_new(void) {
  return g_ptr_array_new_with_free_func(free_fault);
}

void ew_source_faults_add(GPtrArray *faults, const char *field, const char *says) {
  struct ew_source_fault *fault = g_new0(struct ew_source_fault, 1);
  fault->field = g_strdup(field);
  fault->says = g_strdup(says);
  g_ptr_array_add(faults, fault);
}

/* Takes `field` and the error. */
static void found(GPtrArray *faults, char *field, GError *problem) {
  g_assert(problem);
  ew_source_faults_add(faults, field, problem->message);
  g_free(field);
  g_error_free(problem);
}

static gboolean is_at_fault(const GPtrArray *faults, const char *field) {
  for (guint i = 0; i < faults->len; i++)
    if (strcmp(((const struct ew_source_fault *)faults->pdata[i])->field, field) == 0)
      return TRUE;
  return FALSE;
}

/* ---- what a text may hold ---- */

static gboolean check_path(const char *name, const char *text, GError **error) {
  static const char *const not_files[] = {"/dev/", "/proc/", "/sys/"};
  if (*text != '/' || strstr(text, ".."))
    return ew_refuse(error, "%s: '%s': write the whole path, from / on and without ..", name, text);
  for (gsize i = 0; i < G_N_ELEMENTS(not_files); i++)
    if (g_str_has_prefix(text, not_files[i]))
      return ew_refuse(error, "%s: '%s': nothing under %s is a file of a logger", name, text,
                       not_files[i]);
  return TRUE;
}

/* IPv6 stands in brackets, and Modbus and MQTT take names and IPv4 alone. */
static const char *not_in(const char *key, const char *name, const char *text) {
  gboolean is_peer = strcmp(name, "host") == 0 || strcmp(name, "address") == 0;
  gboolean bracketed = *text == '[' && g_str_has_suffix(text, "]") &&
                       (strcmp(key, "tcp") == 0 || strcmp(key, "udp") == 0);
  if ((is_peer && !bracketed) || strcmp(name, "interface") == 0)
    return "?#&/: ";
  return "?#&";
}

static gboolean check_text(const char *key, const char *name, const char *text, GError **error) {
  gboolean is_path = strcmp(name, "path") == 0, is_device = strcmp(name, "device") == 0;
  const char *bad = not_in(key, name, text);
  if (strlen(text) > TEXT_MOST || !ew_plain_is(text))
    return ew_refuse(error, "%s: write a line of up to %u bytes without control characters", name,
                     TEXT_MOST);
  for (const char *at = text; *at; at++)
    if (strchr(bad, *at))
      return ew_refuse(error, "%s: '%s': the character '%c' can't stand here", name, text, *at);
  if (is_device && (!g_str_has_prefix(text, "/dev/") || strstr(text, "..")))
    return ew_refuse(error, "%s: '%s': write a device such as /dev/ttyUSB0", name, text);
  return !is_path || check_path(name, text, error);
}

/* ---- reading ---- */

static void set(const struct ew_fields *table, void *record, const struct ew_field *field,
                const char *text, const char *before, GPtrArray *faults) {
  GError *problem = NULL;
  g_autofree char *trimmed = g_strstrip(g_strdup(text ? text : ""));
  if (!*trimmed && field->fallback)
    return; /* its default stands */
  gboolean wanted = field->type == EW_FIELD_TEXT || field->type == EW_FIELD_INTEGER;
  if (!*trimmed && wanted)
    ew_refuse(&problem, "%s: is missing", field->name);
  else if (*trimmed)
    ew_field_set(table, record, field->name, trimmed, &problem);
  if (problem)
    found(faults, g_strconcat(before, field->name, NULL), problem);
}

static const char *text_of(const struct ew_node *map, const char *name) {
  const struct ew_node *one = map && map->kind == EW_NODE_MAP ? ew_node_member(map, name) : NULL;
  return one ? one->text : NULL;
}

static void read_all(const struct ew_fields *table, const struct ew_node *map, const char *before,
                     void *record, GPtrArray *faults) {
  ew_fields_defaults(table, record);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    set(table, record, field, text_of(map, field->name), before, faults);
  }
}

static void check_texts(const struct ew_source_form *form, const void *record, GPtrArray *faults) {
  for (gsize i = 0; i < form->table.count; i++) {
    const struct ew_field *field = &form->table.fields[i];
    GError *problem = NULL;
    const char *text = field->type == EW_FIELD_TEXT
                           ? *(char *const *)((const char *)record + field->offset)
                           : NULL;
    if (text && *text && !check_text(form->key, field->name, text, &problem))
      found(faults, g_strdup(field->name), problem);
  }
}

/* One row of the bus, as its map would read it. */
static void read_row(const char *list, const struct ew_node *row, guint place, GPtrArray *faults) {
  struct ew_bus_row read = {0};
  const struct ew_fields *table = ew_bus_map_fields(list);
  GError *problem = NULL;
  guint before = faults->len;
  g_autofree char *prefix = g_strdup_printf("%u.", place);
  read_all(table, row, prefix, &read, faults);
  if (faults->len == before && !ew_bus_map_check(&read, list, &problem)) {
    const char *field = ew_error_field(problem);
    found(faults, g_strconcat(prefix, field ? field : "name", NULL), problem);
  }
  ew_fields_clear(table, &read);
}

static void read_rows(const struct ew_source_form *form, const struct ew_node *rows,
                      const struct typed *t, GPtrArray *faults) {
  guint count = rows && rows->kind == EW_NODE_LIST ? rows->children->len : 0;
  gboolean lines = form->may_lack_rows && t->topic && *t->topic;
  GError *problem = NULL;
  if (count == 0 && !lines && form->may_lack_rows) {
    ew_refuse(&problem, "topic: give one, or channels with a topic each");
    found(faults, g_strdup("topic"), problem);
  } else if (count == 0 && !lines) {
    ew_refuse(&problem, "give at least one channel, and where its figure is");
    found(faults, g_strdup("rows"), problem);
  } else if (count > ROWS_MOST) {
    ew_refuse(&problem, "%u channels, and at most %u are read", count, ROWS_MOST);
    found(faults, g_strdup("rows"), problem);
  } else if (count > 0 && lines) {
    ew_refuse(&problem, "topic: whole lines, or one topic a channel: not both");
    found(faults, g_strdup("topic"), problem);
  } else
    for (guint i = 0; i < count; i++)
      read_row(form->rows, rows->children->pdata[i], i, faults);
}

/* ---- the address ---- */

static char *with_map(char *begun, const char *map_path, const char *more) {
  g_autofree char *start = begun, *escaped = g_uri_escape_string(map_path, "/", FALSE);
  return g_strconcat(start, "?map=", escaped, more, NULL);
}

static char *bus_url(const struct ew_source_form *form, const struct typed *t,
                     const char *map_path) {
  char every[G_ASCII_DTOSTR_BUF_SIZE];
  g_ascii_formatd(every, sizeof every, "%.6g", t->every_s);
  g_autofree char *modbus =
      g_strdup_printf("&every=%s%s", every, t->any_unit ? "&anyunit=yes" : "");
  g_autofree char *rtu =
      g_strdup_printf("&every=%s&unit=%d&baud=%s", every, t->unit, bauds[t->baud]);
  if (strcmp(form->key, "modbus") == 0)
    return with_map(g_strdup_printf("modbus://%s:%d/%d", t->host, t->port, t->unit), map_path,
                    modbus);
  if (strcmp(form->key, "modbus-rtu") == 0)
    return with_map(g_strdup_printf("modbus-rtu:%s", t->device), map_path, rtu);
  if (strcmp(form->key, "can") == 0)
    return with_map(g_strdup_printf("can:%s", t->interface), map_path, "");
  g_assert(strcmp(form->key, "mqtt") == 0);
  return *t->topic ? g_strdup_printf("mqtt://%s:%d/%s", t->host, t->port, t->topic)
                   : with_map(g_strdup_printf("mqtt://%s:%d/", t->host, t->port), map_path, "");
}

static char *url_of(const struct ew_source_form *form, const struct typed *t, const char *map_path,
                    const char *book_path) {
  char figure[G_ASCII_DTOSTR_BUF_SIZE];
  if (form->rows)
    return bus_url(form, t, map_path);
  if (strcmp(form->key, "practice") == 0)
    return g_strconcat(
        "practice:?rate=", g_ascii_formatd(figure, sizeof figure, "%.6g", t->rate_hz), NULL);
  if (strcmp(form->key, "replay") == 0) {
    g_autofree char *row = g_strdup_printf("#%d?speed=", t->recording);
    return g_strconcat("replay:", book_path, row,
                       g_ascii_formatd(figure, sizeof figure, "%.6g", t->speed), NULL);
  }
  if (strcmp(form->key, "tcp") == 0)
    return g_strdup_printf("tcp://%s:%d", t->host, t->port);
  if (strcmp(form->key, "udp") == 0)
    return g_strdup_printf("udp://%s:%d%s%s", t->address, t->port, *t->from ? "?from=" : "",
                           t->from);
  if (strcmp(form->key, "serial") == 0)
    return g_strdup_printf("serial:%s?baud=%s", t->device, bauds[t->baud]);
  g_assert(strcmp(form->key, "file") == 0);
  return g_strdup_printf("file:%s%s", t->path, t->at_end ? "?end=stop" : "");
}

char *ew_source_form_url(const struct ew_source_form *form, const struct ew_node *typed,
                         const struct ew_node *rows, const char *map_path, const char *book_path,
                         GPtrArray *faults) {
  struct typed t = {0};
  guint before = faults->len;
  read_all(&form->table, typed, "", &t, faults);
  check_texts(form, &t, faults);
  if (form->rows && !is_at_fault(faults, "topic"))
    read_rows(form, rows, &t, faults);
  char *url = faults->len == before ? url_of(form, &t, map_path, book_path) : NULL;
  ew_fields_clear(&form->table, &t);
  return url;
}

/* ---- the map ---- */

static void append_row(const struct ew_fields *table, const struct ew_bus_row *row, GString *text) {
  g_autofree char *yaml = ew_fields_write_yaml(table, row);
  g_auto(GStrv) lines = g_strsplit(yaml, "\n", -1);
  const char *lead = "  - ";
  for (int i = 0; lines[i]; i++) {
    if (!*lines[i])
      continue;
    g_string_append_printf(text, "%s%s\n", lead, lines[i]);
    lead = "    ";
  }
}

char *ew_source_form_map(const struct ew_source_form *form, const struct ew_node *rows) {
  const struct ew_fields *table = ew_bus_map_fields(form->rows);
  g_autoptr(GPtrArray) faults = ew_source_faults_new();
  GString *text = g_string_new(form->rows);
  g_string_append(text, ":\n");
  for (guint i = 0; i < rows->children->len; i++) {
    struct ew_bus_row row = {0};
    read_all(table, rows->children->pdata[i], "", &row, faults);
    append_row(table, &row, text);
    ew_fields_clear(table, &row);
  }
  g_assert(faults->len == 0);
  return g_string_free(text, FALSE);
}

gboolean ew_source_form_rows(const struct ew_source_form *form, const char *text,
                             struct ew_json *json, GError **error) {
  const struct ew_fields *table = ew_bus_map_fields(form->rows);
  g_autoptr(ew_node) root = ew_node_parse("map", text, strlen(text), error);
  g_autoptr(ew_bus_map) map = root ? ew_bus_map_read(root, "map", form->rows, error) : NULL;
  if (!map)
    return FALSE;
  if (map->rows->len > ROWS_MOST)
    return ew_refuse(error, "%u channels, and at most %u are read", map->rows->len, ROWS_MOST);
  for (guint i = 0; i < map->rows->len; i++) {
    ew_json_open(json, NULL);
    for (gsize k = 0; k < table->count; k++) {
      g_autofree char *typed =
          ew_field_typed(&table->fields[k], &g_array_index(map->rows, struct ew_bus_row, i));
      if (typed)
        ew_json_text(json, table->fields[k].name, typed);
    }
    ew_json_close(json);
  }
  return TRUE;
}
