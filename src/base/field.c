#include "base/field.h"
#include "base/words.h"
#include "base/error.h"
#include "base/number.h"
#include "base/suggest.h"
#include <math.h>
#include <string.h>

#define AT(type, record, field) ((type *)(void *)((char *)(record) + (field)->offset))

const struct ew_field *ew_fields_find(const struct ew_fields *table, const char *name) {
  for (gsize i = 0; i < table->count; i++)
    if (strcmp(table->fields[i].name, name) == 0)
      return &table->fields[i];
  return NULL;
}

static int decimals_for(enum ew_kind kind, enum ew_unit_system system, double shown) {
  if (kind == EW_KIND_ROTATIONAL_SPEED || kind == EW_KIND_COUNT)
    return 0;
  double size = fabs(shown);
  if (kind == EW_KIND_LENGTH && system == EW_UNITS_US)
    return size >= 0.1 || size == 0 ? 3 : 4; /* thousandths of an inch, and tenths of one */
  if (size >= 100) /* what was typed with two decimals, such as 1013.25 hPa, keeps them */
    return fabs(100 * shown - round(100 * shown)) < 1e-6 ? 2 : 1;
  if (size >= 1 || size == 0)
    return 2;
  return MIN(2 - (int)floor(log10(size)), 9); /* three figures that count, however small */
}

/* No more decimals than the figure needs. */
static int short_decimals(enum ew_kind kind, enum ew_unit_system system, double shown) {
  int decimals = decimals_for(kind, system, shown);
  while (decimals > 0 && fabs(shown * pow(10, decimals - 1) -
                              round(shown * pow(10, decimals - 1))) <= 1e-6 * fmin(1, fabs(shown)))
    decimals--;
  return decimals;
}

/* Chambers, domes, gaskets and oil are measured in cc everywhere, and parts of an engine weighed in grams;
 * only displacements are told in cubic inches. */
static enum ew_unit_system system_for(enum ew_kind kind, enum ew_unit_system system, double value) {
  gboolean metric =
      (kind == EW_KIND_VOLUME && fabs(value) < 1e-3) || (kind == EW_KIND_MASS && fabs(value) < 5);
  return metric ? EW_UNITS_SI : system;
}

/* Whole minutes and hours are told as such. */
static char *show_time(double seconds) {
  const char *unit = seconds >= 3600 ? "h" : "min";
  double count = seconds / (seconds >= 3600 ? 3600 : 60);
  return seconds >= 60 && fabs(20 * count - round(20 * count)) < 1e-9
             ? ew_words("%.4g %s", count, unit)
             : NULL;
}

static char *show_short(enum ew_kind kind, enum ew_unit_system system, double value) {
  char *time = kind == EW_KIND_TIME ? show_time(value) : NULL;
  if (time)
    return time;
  system = system_for(kind, system, value);
  int decimals = short_decimals(kind, system, ew_shown(kind, system, value));
  return ew_quantity_format(kind, system, value, decimals);
}

static gboolean refuse_unknown(const struct ew_fields *table, const char *where, guint line,
                               const char *key, GError **error) {
  g_autofree const char **names = g_new0(const char *, table->count);
  for (gsize i = 0; i < table->count; i++)
    names[i] = table->fields[i].name;
  const char *near = ew_suggest(key, names, table->count);
  g_autofree char *place = line ? g_strdup_printf("%s, line %u", where, line) : g_strdup(where);
  if (near)
    return ew_refuse(error, "%s: '%s' is no field of %s; did you mean '%s'?", place, key,
                     table->record, near);
  return ew_refuse(error, "%s: '%s' is no field of %s", place, key, table->record);
}

static gboolean in_range(const struct ew_field *field, const char *place, const char *given,
                         double value, GError **error) {
  if ((field->minimum == 0 && field->maximum == 0) ||
      (value >= field->minimum && value <= field->maximum))
    return TRUE;
  g_autofree char *low = show_short(field->kind, EW_UNITS_SI, field->minimum);
  g_autofree char *high = show_short(field->kind, EW_UNITS_SI, field->maximum);
  return ew_refuse(error, "%s: '%s' is outside %s to %s; %s", place, given, low, high, field->help);
}

static gboolean set_choice(const struct ew_field *field, const char *place, const char *text,
                           void *record, GError **error) {
  for (int i = 0; field->choices[i]; i++)
    if (g_ascii_strcasecmp(field->choices[i], text) == 0) {
      *AT(int, record, field) = i;
      return TRUE;
    }
  g_autofree char *all = g_strjoinv(", ", (char **)field->choices);
  return ew_refuse(error, "%s: '%s' is none of %s", place, text, all);
}

/* One more of a list of words; a word that is named twice counts once. */
static gboolean add_choice(const struct ew_field *field, const char *place, const char *text,
                           guint64 *bits, GError **error) {
  guint count = g_strv_length((char **)field->choices);
  g_assert(count <= 64);
  for (guint i = 0; i < count; i++)
    if (g_ascii_strcasecmp(field->choices[i], text) == 0) {
      *bits |= G_GUINT64_CONSTANT(1) << i;
      return TRUE;
    }
  const char *near = ew_suggest(text, field->choices, count);
  g_autofree char *all = g_strjoinv(", ", (char **)field->choices);
  if (near)
    return ew_refuse(error, "%s: '%s' is not known; did you mean '%s'?", place, text, near);
  return ew_refuse(error, "%s: '%s' is none of %s", place, text, all);
}

/* "a, b", as the command line gives it. */
static gboolean set_choices(const struct ew_field *field, const char *place, const char *text,
                            void *record, GError **error) {
  g_auto(GStrv) words = g_strsplit(text, ",", 65);
  guint64 bits = 0;
  for (int i = 0; words[i]; i++)
    if (!add_choice(field, place, g_strstrip(words[i]), &bits, error))
      return FALSE;
  *AT(guint64, record, field) = bits;
  return TRUE;
}

static gboolean set_choice_list(const struct ew_field *field, const char *place,
                                const struct ew_node *node, void *record, GError **error) {
  guint64 bits = 0;
  if (node->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s: a list is wanted here: [%s, ...]", place, field->choices[0]);
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(node->children, i);
    g_autofree char *at = g_strdup_printf("%s[%u]", place, i + 1);
    if (item->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "%s: one word is wanted here, such as %s", at, field->choices[0]);
    if (!add_choice(field, at, item->text, &bits, error))
      return FALSE;
  }
  *AT(guint64, record, field) = bits;
  return TRUE;
}

/* The words of a list, with a comma and a blank between them. */
static char *join_choices(const struct ew_field *field, const void *record) {
  GString *text = g_string_new(NULL);
  for (int i = 0; field->choices[i]; i++)
    if (*AT(guint64, record, field) >> i & 1)
      g_string_append_printf(text, "%s%s", text->len ? ", " : "", field->choices[i]);
  return g_string_free(text, FALSE);
}

static gboolean set_quantity(const struct ew_field *field, const char *place, const char *text,
                             gboolean number, void *record, GError **error) {
  double value;
  if (number) {
    if (!ew_number_parse(text, &value))
      return ew_refuse(error, "%s: '%s' is no number", place, text);
  } else if (!ew_quantity_parse(place, text, field->kind, &value, error))
    return FALSE;
  if (!in_range(field, place, text, value, error))
    return FALSE;
  *AT(double, record, field) = value;
  return TRUE;
}

static gboolean set_text(const struct ew_field *field, const char *place, const char *text,
                         gboolean number, void *record, GError **error) {
  double value;
  switch (field->type) {
  case EW_FIELD_QUANTITY: return set_quantity(field, place, text, number, record, error);
  case EW_FIELD_INTEGER:
    if (!ew_number_parse(text, &value) || value != floor(value) || fabs(value) > 1e9)
      return ew_refuse(error, "%s: '%s' is no whole number", place, text);
    if (!in_range(field, place, text, value, error))
      return FALSE;
    *AT(int, record, field) = (int)value;
    return TRUE;
  case EW_FIELD_BOOLEAN:
    if (strcmp(text, "yes") == 0 || strcmp(text, "true") == 0)
      *AT(gboolean, record, field) = TRUE;
    else if (strcmp(text, "no") == 0 || strcmp(text, "false") == 0)
      *AT(gboolean, record, field) = FALSE;
    else
      return ew_refuse(error, "%s: '%s' is neither yes nor no", place, text);
    return TRUE;
  case EW_FIELD_TEXT:
    if (strlen(text) > 4000 || !g_utf8_validate(text, -1, NULL))
      return ew_refuse(error, "%s: the text is longer than 4,000 bytes or no UTF-8", place);
    g_free(*AT(char *, record, field));
    *AT(char *, record, field) = g_strdup(text);
    return TRUE;
  case EW_FIELD_CHOICE: return set_choice(field, place, text, record, error);
  case EW_FIELD_NUMBERS: return ew_refuse(error, "%s: a list is wanted here: [a, b, ...]", place);
  case EW_FIELD_CHOICES: return set_choices(field, place, text, record, error);
  }
  g_assert_not_reached();
}

static gboolean set_list(const struct ew_field *field, const char *place,
                         const struct ew_node *node, void *record, GError **error) {
  if (node->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s: a list is wanted here: [a, b, ...]", place);
  GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(node->children, i);
    double value;
    g_autofree char *at = g_strdup_printf("%s[%u]", place, i + 1);
    if (item->kind != EW_NODE_SCALAR ||
        !ew_quantity_parse(at, item->text, field->kind, &value, error) ||
        !in_range(field, at, item->text, value, error)) {
      if (item->kind != EW_NODE_SCALAR)
        ew_refuse(error, "%s: a figure is wanted here, such as %s", at,
                  ew_kind_examples(field->kind));
      g_array_unref(values);
      return FALSE;
    }
    g_array_append_val(values, value);
  }
  if (*AT(GArray *, record, field))
    g_array_unref(*AT(GArray *, record, field));
  *AT(GArray *, record, field) = values;
  return TRUE;
}

static gboolean read_member(const struct ew_fields *table, const struct ew_node *child,
                            const char *where, void *record, GError **error) {
  const struct ew_field *field = ew_fields_find(table, child->key);
  if (!field)
    return refuse_unknown(table, where, child->line, child->key, error);
  g_autofree char *place = g_strdup_printf("%s, line %u: %s", where, child->line, child->key);
  if (field->type == EW_FIELD_NUMBERS)
    return set_list(field, place, child, record, error);
  if (field->type == EW_FIELD_CHOICES)
    return set_choice_list(field, place, child, record, error);
  if (child->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "%s: one value is wanted here, not a %s", place,
                     child->kind == EW_NODE_LIST ? "list" : "group");
  return set_text(field, place, child->text, child->number, record, error);
}

static gboolean listed(const char *const *others, const char *key) {
  return others && g_strv_contains((const gchar *const *)others, key);
}

gboolean ew_fields_read(const struct ew_fields *table, const struct ew_node *map, const char *where,
                        const char *const *others, void *record, GError **error) {
  memset(record, 0, table->size);
  if (map->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: %s is written as 'name: value' lines", where, map->line,
                     table->record);
  ew_fields_defaults(table, record);
  for (guint i = 0; i < map->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(map->children, i);
    if (!listed(others, child->key) && !read_member(table, child, where, record, error)) {
      ew_fields_clear(table, record);
      return FALSE;
    }
  }
  return TRUE;
}

gboolean ew_field_set(const struct ew_fields *table, void *record, const char *name,
                      const char *text, GError **error) {
  const struct ew_field *field = ew_fields_find(table, name);
  if (!field)
    return refuse_unknown(table, table->record, 0, name, error);
  return set_text(field, name, text, FALSE, record, error);
}

void ew_fields_defaults(const struct ew_fields *table, void *record) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_QUANTITY)
      *AT(double, record, field) = NAN;
    g_autoptr(GError) error = NULL;
    if (field->fallback && !set_text(field, field->name, field->fallback, FALSE, record, &error))
      g_error("field table of %s: %s", table->record, error->message);
  }
}

void ew_fields_clear(const struct ew_fields *table, void *record) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_TEXT)
      g_clear_pointer(AT(char *, record, field), g_free);
    if (field->type == EW_FIELD_NUMBERS)
      g_clear_pointer(AT(GArray *, record, field), g_array_unref);
  }
}

void ew_fields_copy(const struct ew_fields *table, const void *from, void *to) {
  memcpy(to, from, table->size);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_TEXT)
      *AT(char *, to, field) = g_strdup(*AT(char *, from, field));
    if (field->type == EW_FIELD_NUMBERS && *AT(GArray *, from, field))
      *AT(GArray *, to, field) = g_array_copy(*AT(GArray *, from, field));
  }
}

gboolean ew_field_same(const struct ew_field *field, const void *a, const void *b) {
  switch (field->type) {
  case EW_FIELD_QUANTITY: {
    double x = *AT(double, a, field), y = *AT(double, b, field);
    return x == y || (isnan(x) && isnan(y));
  }
  case EW_FIELD_TEXT: return g_strcmp0(*AT(char *, a, field), *AT(char *, b, field)) == 0;
  case EW_FIELD_NUMBERS: {
    GArray *x = *AT(GArray *, a, field), *y = *AT(GArray *, b, field);
    if (!x || !y)
      return x == y;
    return x->len == y->len && memcmp(x->data, y->data, x->len * sizeof(double)) == 0;
  }
  case EW_FIELD_CHOICES: return *AT(guint64, a, field) == *AT(guint64, b, field);
  default: return *AT(int, a, field) == *AT(int, b, field);
  }
}

static gboolean has_value(const struct ew_field *field, const void *record) {
  if (field->type == EW_FIELD_QUANTITY)
    return !isnan(*AT(double, record, field));
  if (field->type == EW_FIELD_TEXT)
    return *AT(char *, record, field) != NULL;
  if (field->type == EW_FIELD_NUMBERS)
    return *AT(GArray *, record, field) != NULL;
  if (field->type == EW_FIELD_CHOICES)
    return *AT(guint64, record, field) != 0;
  return TRUE;
}

void ew_fields_write_json(const struct ew_fields *table, const void *record, struct ew_json *json) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (!has_value(field, record))
      continue;
    g_autofree char *key = g_strconcat(field->name, ew_kind_suffix(field->kind), NULL);
    switch (field->type) {
    case EW_FIELD_QUANTITY: ew_json_number(json, key, *AT(double, record, field)); break;
    case EW_FIELD_INTEGER: ew_json_integer(json, field->name, *AT(int, record, field)); break;
    case EW_FIELD_BOOLEAN: ew_json_boolean(json, field->name, *AT(gboolean, record, field)); break;
    case EW_FIELD_TEXT: ew_json_text(json, field->name, *AT(char *, record, field)); break;
    case EW_FIELD_CHOICE:
      ew_json_text(json, field->name, field->choices[*AT(int, record, field)]);
      break;
    case EW_FIELD_NUMBERS: {
      const GArray *list = *AT(GArray *, record, field);
      ew_json_numbers(json, key, (const double *)(void *)list->data, list->len);
      break;
    }
    case EW_FIELD_CHOICES:
      ew_json_open_array(json, field->name);
      for (int k = 0; field->choices[k]; k++)
        if (*AT(guint64, record, field) >> k & 1)
          ew_json_text(json, NULL, field->choices[k]);
      ew_json_close_array(json);
      break;
    }
  }
}

static void append_exact(GString *text, const struct ew_field *field, double value) {
  char buffer[EW_NUMBER_SIZE];
  const char *unit = ew_kind_si(field->kind);
  g_string_append_printf(text, "%s%s%s", ew_number_write(value, buffer),
                         strcmp(unit, "1") ? " " : "",
                         strcmp(unit, "1") == 0        ? ""
                         : strcmp(unit, "arcdeg") == 0 ? "deg"
                                                       : unit);
}

/* Double quotes of YAML; what does not print is escaped, so that it reads back as it was. */
static void append_quoted(GString *text, const char *value) {
  g_string_append_c(text, '"');
  for (const char *c = value; *c; c = g_utf8_next_char(c)) {
    gunichar letter = g_utf8_get_char(c);
    if (letter == '"' || letter == '\\')
      g_string_append_printf(text, "\\%c", *c);
    else if (letter == '\n')
      g_string_append(text, "\\n");
    else if (!g_unichar_isprint(letter) || letter == 0x2028 || letter == 0x2029 || letter == 0xfeff)
      g_string_append_printf(text, "\\U%08x", letter);
    else
      g_string_append_unichar(text, letter);
  }
  g_string_append_c(text, '"');
}

char *ew_fields_write_yaml(const struct ew_fields *table, const void *record) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (!has_value(field, record))
      continue;
    g_string_append_printf(text, "%s: ", field->name);
    switch (field->type) {
    case EW_FIELD_QUANTITY: append_exact(text, field, *AT(double, record, field)); break;
    case EW_FIELD_INTEGER: g_string_append_printf(text, "%d", *AT(int, record, field)); break;
    case EW_FIELD_BOOLEAN: g_string_append(text, *AT(int, record, field) ? "yes" : "no"); break;
    case EW_FIELD_TEXT: append_quoted(text, *AT(char *, record, field)); break;
    case EW_FIELD_CHOICE: g_string_append(text, field->choices[*AT(int, record, field)]); break;
    case EW_FIELD_NUMBERS: {
      const GArray *list = *AT(GArray *, record, field);
      g_string_append_c(text, '[');
      for (guint j = 0; j < list->len; j++) {
        g_string_append(text, j ? ", " : "");
        append_exact(text, field, g_array_index(list, double, j));
      }
      g_string_append_c(text, ']');
      break;
    }
    case EW_FIELD_CHOICES: {
      g_autofree char *words = join_choices(field, record);
      g_string_append_printf(text, "[%s]", words);
      break;
    }
    }
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}

static char *example_of(const struct ew_field *field) {
  if (field->fallback)
    return g_strdup(field->fallback);
  if (field->example)
    return g_strdup(field->example);
  switch (field->type) {
  case EW_FIELD_INTEGER: return g_strdup("1");
  case EW_FIELD_BOOLEAN: return g_strdup("no");
  case EW_FIELD_TEXT: return g_strdup("\"\"");
  case EW_FIELD_CHOICE: return g_strdup(field->choices[0]);
  case EW_FIELD_CHOICES: return g_strdup_printf("[%s]", field->choices[0]);
  default: break;
  }
  g_auto(GStrv) examples = g_strsplit(ew_kind_examples(field->kind), ", ", 2);
  return field->type == EW_FIELD_NUMBERS ? g_strdup_printf("[%s]", examples[0])
                                         : g_strdup(examples[0]);
}

char *ew_fields_template(const struct ew_fields *table) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *example = example_of(field);
    if (field->section)
      g_string_append_printf(text, "%s# --- %s\n", i ? "\n" : "", field->section);
    g_string_append_printf(text, "# %s%s%s%s\n", field->help, field->origin ? " (" : "",
                           field->origin ? field->origin : "", field->origin ? ")" : "");
    g_string_append_printf(text, "%s%s: %s\n", field->fallback ? "" : "# ", field->name, example);
  }
  return g_string_free(text, FALSE);
}

char *ew_fields_manual(const struct ew_fields *table) {
  GString *text =
      g_string_new("| field | measures | range | default | meaning |\n|---|---|---|---|---|\n");
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    g_autofree char *range = g_strdup("");
    if (field->minimum != 0 || field->maximum != 0) {
      g_autofree char *low = ew_quantity_format(field->kind, EW_UNITS_SI, field->minimum, 2);
      g_autofree char *high = ew_quantity_format(field->kind, EW_UNITS_SI, field->maximum, 2);
      g_free(range);
      range = g_strdup_printf("%s to %s", low, high);
    }
    g_autofree char *choices = field->type == EW_FIELD_CHOICE || field->type == EW_FIELD_CHOICES
                                   ? g_strjoinv(", ", (char **)field->choices)
                                   : NULL;
    const char *measures = choices                           ? choices
                           : field->type == EW_FIELD_TEXT    ? "text"
                           : field->type == EW_FIELD_BOOLEAN ? "yes or no"
                                                             : ew_kind_name(field->kind);
    g_string_append_printf(text, "| `%s` | %s | %s | %s | %s%s%s%s |\n", field->name, measures,
                           range, field->fallback ? field->fallback : "", field->help,
                           field->origin ? " (" : "", field->origin ? field->origin : "",
                           field->origin ? ")" : "");
  }
  return g_string_free(text, FALSE);
}

/* "44.0, 44.1, 45.1 cc": the unit once, every figure with the digits of the longest. */
static char *show_list(const struct ew_field *field, const GArray *list,
                       enum ew_unit_system system) {
  int decimals = 0;
  if (list->len)
    system = system_for(field->kind, system, g_array_index(list, double, 0));
  for (guint i = 0; i < list->len; i++)
    decimals = MAX(decimals,
                   short_decimals(field->kind, system,
                                  ew_shown(field->kind, system, g_array_index(list, double, i))));
  GString *text = g_string_new(NULL);
  for (guint i = 0; i + 1 < list->len; i++) {
    char figure[EW_NUMBER_SIZE];
    double shown = ew_shown(field->kind, system, g_array_index(list, double, i));
    g_string_append_printf(text, "%s, ", ew_number_fixed(shown, decimals, figure));
  }
  if (list->len) {
    double last = g_array_index(list, double, list->len - 1);
    g_autofree char *with_unit = ew_quantity_format(field->kind, system, last, decimals);
    g_string_append(text, with_unit);
  }
  return g_string_free(text, FALSE);
}

char *ew_field_show(const struct ew_field *field, const void *record, enum ew_unit_system system) {
  if (!has_value(field, record))
    return NULL;
  switch (field->type) {
  case EW_FIELD_QUANTITY: return show_short(field->kind, system, *AT(double, record, field));
  case EW_FIELD_INTEGER: return g_strdup_printf("%d", *AT(int, record, field));
  case EW_FIELD_BOOLEAN: return g_strdup(*AT(gboolean, record, field) ? "yes" : "no");
  case EW_FIELD_TEXT: return g_strdup(*AT(char *, record, field));
  case EW_FIELD_CHOICE: return g_strdup(field->choices[*AT(int, record, field)]);
  case EW_FIELD_NUMBERS: return show_list(field, *AT(GArray *, record, field), system);
  case EW_FIELD_CHOICES: return join_choices(field, record);
  }
  return NULL;
}
