/* The map of a bus from YAML, and how raw registers, frames and payloads become figures. Bits and bytes are taken in
 * the order that the row states; a figure that is not finite, or a payload that is not a number, is NaN. */
#include "cell/bus_map.h"
#include "base/error.h"
#include "base/number.h"
#include <math.h>
#include <stddef.h>
#include <string.h>

static const char *const kinds[] = {"holding", "input", "coil", "discrete", NULL};
static const char *const types[] = {"int16", "uint16", "int32", "uint32", "float32", NULL};
static const char *const orders[] = {"abcd", "cdab", "badc", "dcba", NULL};
static const char *const byte_orders[] = {"little", "big", NULL};

#define AT(member) .offset = offsetof(struct ew_bus_row, member)
#define NAME                                                                                       \
  {.name = "name", .type = EW_FIELD_TEXT, AT(name), .help = "name of the channel"}, {              \
    .name = "unit", .type = EW_FIELD_TEXT, AT(unit), .fallback = "", .help = "unit of the figure"  \
  }
#define SCALE                                                                                      \
  {.name = "scale",                                                                                \
   .type = EW_FIELD_QUANTITY,                                                                      \
   .kind = EW_KIND_NUMBER,                                                                         \
   AT(scale),                                                                                      \
   .fallback = "1",                                                                                \
   .help = "factor on the figure read"},                                                           \
  {                                                                                                \
    .name = "offset", .type = EW_FIELD_QUANTITY, .kind = EW_KIND_NUMBER, AT(offset),               \
    .fallback = "0", .help = "added after the scale"                                               \
  }
#define TIMEOUT                                                                                    \
  {                                                                                                \
    .name = "timeout", .type = EW_FIELD_QUANTITY, .kind = EW_KIND_TIME, AT(timeout_s),             \
    .minimum = 0.01, .maximum = 86400, .help = "absent when silent for this long"                  \
  }
#define WHOLE(field, member, low, high, usual)                                                     \
  .name = field, .type = EW_FIELD_INTEGER, .kind = EW_KIND_COUNT, AT(member), .minimum = low,      \
  .maximum = high, .fallback = usual
#define CHOICE(field, member, list, usual)                                                         \
  .name = field, .type = EW_FIELD_CHOICE, AT(member), .choices = list, .fallback = usual

static const struct ew_field register_fields[] = {
    NAME,
    SCALE,
    {WHOLE("address", address, 0, 65535, "0"),
     .help = "address of the first register, counted from 0"},
    {CHOICE("kind", kind, kinds, "holding"), .help = "which table of the device"},
    {CHOICE("type", type, types, "uint16"), .help = "how the registers are read"},
    {CHOICE("order", order, orders, "abcd"), .help = "order of the four bytes of 32-bit types"},
};
static const struct ew_field signal_fields[] = {
    NAME,
    SCALE,
    {WHOLE("id", id, 0, 536870911, "0"), .help = "identifier of the frame"},
    {.name = "extended",
     .type = EW_FIELD_BOOLEAN,
     AT(extended),
     .fallback = "no",
     .help = "a 29-bit identifier"},
    {WHOLE("start", start, 0, 511, "0"), .help = "first bit"},
    {WHOLE("length", length, 1, 32, "16"), .help = "how many bits"},
    {CHOICE("order", byte_order, byte_orders, "little"), .help = "order of the bytes"},
    {.name = "signed",
     .type = EW_FIELD_BOOLEAN,
     AT(is_signed),
     .fallback = "no",
     .help = "two's complement"},
    {WHOLE("page", page, -1, 255, "-1"), .help = "only in frames whose byte 0 is this"},
    TIMEOUT,
};
static const struct ew_field topic_fields[] = {
    NAME,
    SCALE,
    {.name = "topic", .type = EW_FIELD_TEXT, AT(topic), .help = "where it is published"},
    TIMEOUT,
};

static const struct {
  const char *list;
  struct ew_fields table;
} tables[] = {
    {"registers",
     {"a register", sizeof(struct ew_bus_row), register_fields, G_N_ELEMENTS(register_fields)}},
    {"signals",
     {"a signal", sizeof(struct ew_bus_row), signal_fields, G_N_ELEMENTS(signal_fields)}},
    {"topics", {"a topic", sizeof(struct ew_bus_row), topic_fields, G_N_ELEMENTS(topic_fields)}},
};

const struct ew_fields *ew_bus_map_fields(const char *list) {
  for (gsize i = 0; i < G_N_ELEMENTS(tables); i++)
    if (strcmp(tables[i].list, list) == 0)
      return &tables[i].table;
  g_assert_not_reached();
}

/* Which field of it was the wrong one, or NULL. */
static const char *wrong_one(const struct ew_bus_row *row, const char *list, GError **error) {
  if (!row->name || !*row->name) {
    ew_refuse(error, "name is missing");
    return "name";
  }
  if (strcmp(list, "topics") == 0 && (!row->topic || !*row->topic)) {
    ew_refuse(error, "'%s': topic is missing", row->name);
    return "topic";
  }
  if (strcmp(list, "registers") == 0 && row->address == 65535 && row->kind < EW_REGISTER_COIL &&
      row->type > EW_REGISTER_UINT16) {
    ew_refuse(error, "'%s': address 65535 is the last one: a 32-bit figure needs two", row->name);
    return "address";
  }
  if (strcmp(list, "signals") == 0 && !row->extended && row->id > 0x7ff) {
    ew_refuse(error, "'%s': id %d has more than 11 bits: write extended: yes", row->name, row->id);
    return "id";
  }
  return NULL;
}

gboolean ew_bus_map_check(const struct ew_bus_row *row, const char *list, GError **error) {
  const char *field = wrong_one(row, list, error);
  if (field)
    ew_error_at_field(error, field);
  return field == NULL;
}

static gboolean read_rows(struct ew_bus_map *map, const struct ew_node *list, const char *where,
                          const struct ew_fields *table, GError **error) {
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = g_ptr_array_index(list->children, i);
    struct ew_bus_row row = {0};
    if (!ew_fields_read(table, one, where, NULL, &row, error))
      return FALSE;
    g_array_append_val(map->rows, row);
    if (!ew_bus_map_check(&row, list->key, error)) {
      g_prefix_error(error, "%s:%u: ", where, one->line);
      return FALSE;
    }
  }
  return map->rows->len > 0 || ew_refuse(error, "%s: the list is empty", where);
}

struct ew_bus_map *ew_bus_map_read(const struct ew_node *root, const char *where, const char *name,
                                   GError **error) {
  const struct ew_node *list = root->kind == EW_NODE_MAP ? ew_node_member(root, name) : NULL;
  if (!list || list->kind != EW_NODE_LIST) {
    ew_refuse(error, "%s: write %s: and a list", where, name);
    return NULL;
  }
  struct ew_bus_map *map = g_new0(struct ew_bus_map, 1);
  map->rows = g_array_new(FALSE, TRUE, sizeof(struct ew_bus_row));
  if (!read_rows(map, list, where, ew_bus_map_fields(name), error)) {
    ew_bus_map_free(map);
    return NULL;
  }
  g_assert(map->rows->len > 0); /* `name` is one of the lists above */
  map->channels = (struct ew_source_channels){map->rows->len, g_new0(char *, map->rows->len + 1),
                                              g_new0(char *, map->rows->len + 1)};
  for (guint i = 0; i < map->rows->len; i++) {
    const struct ew_bus_row *row = &g_array_index(map->rows, struct ew_bus_row, i);
    map->channels.names[i] = row->name;
    map->channels.units[i] = row->unit ? row->unit : (char *)"";
  }
  return map;
}

struct ew_bus_map *ew_bus_map_file(const char *path, const char *list, GError **error) {
  if (!path) {
    ew_refuse(error, "map=FILE is missing: a YAML file with %s", list);
    return NULL;
  }
  g_autoptr(ew_node) root = ew_node_read(path, error);
  return root ? ew_bus_map_read(root, path, list, error) : NULL;
}

void ew_bus_map_free(struct ew_bus_map *map) {
  if (!map)
    return;
  for (guint i = 0; i < map->rows->len; i++) {
    struct ew_bus_row *row = &g_array_index(map->rows, struct ew_bus_row, i);
    g_free(row->name);
    g_free(row->unit);
    g_free(row->topic);
  }
  g_array_unref(map->rows);
  g_free(map->channels.names);
  g_free(map->channels.units);
  g_free(map);
}

static double finite_or_nan(double value) {
  return isfinite(value) ? value : (double)NAN;
}

#define FIGURE_MOST 64 /* characters; a longer number is none that anybody sends */

gboolean ew_bus_topic_value(const struct ew_bus_row *row, const void *payload, gsize size,
                            double *value) {
  char text[FIGURE_MOST + 1];
  *value = NAN;
  if (size == 0 || size > FIGURE_MOST || memchr(payload, 0, size))
    return FALSE;
  memcpy(text, payload, size);
  text[size] = 0;
  double figure;
  if (!ew_number_parse(g_strstrip(text), &figure))
    return FALSE;
  *value = finite_or_nan(row->scale * figure + row->offset);
  return !isnan(*value);
}

double ew_bus_register_value(const struct ew_bus_row *row, const guint16 *r) {
  double value;
  if (row->kind >= EW_REGISTER_COIL)
    value = r[0];
  else if (row->type == EW_REGISTER_INT16)
    value = (gint16)r[0];
  else if (row->type == EW_REGISTER_UINT16)
    value = r[0];
  else {
    guint16 high = r[0], low = r[1];
    if (row->order == EW_ORDER_CDAB || row->order == EW_ORDER_DCBA) {
      high = r[1];
      low = r[0];
    }
    if (row->order == EW_ORDER_BADC || row->order == EW_ORDER_DCBA) {
      high = GUINT16_SWAP_LE_BE(high);
      low = GUINT16_SWAP_LE_BE(low);
    }
    guint32 bits = (guint32)high << 16 | low;
    float real;
    memcpy(&real, &bits, sizeof real);
    value = row->type == EW_REGISTER_FLOAT32 ? (double)real
            : row->type == EW_REGISTER_INT32 ? (double)(gint32)bits
                                             : (double)bits;
  }
  return finite_or_nan(row->scale * value + row->offset);
}

gboolean ew_bus_signal_due(const struct ew_bus_row *row, guint32 id, gboolean extended,
                           const guint8 *data, guint size) {
  return id == (guint32)row->id && extended == row->extended &&
         (row->page < 0 || size < 1 || data[0] == row->page);
}

gboolean ew_bus_signal_value(const struct ew_bus_row *row, guint32 id, gboolean extended,
                             const guint8 *data, guint size, double *value) {
  if (id != (guint32)row->id || extended != row->extended ||
      (row->page >= 0 && (size < 1 || data[0] != row->page)))
    return FALSE;
  guint64 bits = 0;
  for (int i = 0; i < row->length; i++) {
    /* little: upwards from the lowest bit; big: downwards from the highest, byte after byte */
    int place = row->byte_order == 0 ? row->start + i
                                     : (row->start / 8 + (7 - row->start % 8 + i) / 8) * 8 +
                                           (7 - (7 - row->start % 8 + i) % 8);
    if ((guint)place / 8 >= size)
      return FALSE;
    guint64 bit = data[place / 8] >> (place % 8) & 1;
    bits = row->byte_order == 0 ? bits | bit << i : bits << 1 | bit;
  }
  double figure = (double)bits;
  if (row->is_signed && bits >> (row->length - 1) & 1)
    figure -= ldexp(1, row->length);
  *value = finite_or_nan(row->scale * figure + row->offset);
  return TRUE;
}
