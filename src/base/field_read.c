/* A record from text: YAML nodes, one field of the command line, defaults. Every refusal names the place, the text, what would do
 * and, for a misspelt name, the nearest one. A record that is refused holds no memory. */
#include "base/field_parts.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "base/suggest.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

static gboolean refuse_unknown(const struct ew_fields *table, const char *where, guint line,
                               const char *key, GError **error) {
  g_autofree const char **names = g_new0(const char *, table->count);
  for (gsize i = 0; i < table->count; i++)
    names[i] = table->fields[i].name;
  const char *near = ew_suggest(key, names, table->count);
  g_autofree char *place = line ? ew_words("%s, line %u", where, line) : g_strdup(where);
  if (near)
    return ew_refuse(error, "%s: '%s' is not a field of %s; did you mean '%s'?", place, key,
                     ew_tr(table->record), near);
  return ew_refuse(error, "%s: '%s' is not a field of %s", place, key, ew_tr(table->record));
}

static gboolean in_range(const struct ew_field *field, const char *place, const char *given,
                         double value, GError **error) {
  if ((field->minimum == 0 && field->maximum == 0) ||
      (value >= field->minimum && value <= field->maximum))
    return TRUE;
  g_autofree char *low = ew_figure_short(field->kind, EW_UNITS_SI, field->minimum);
  g_autofree char *high = ew_figure_short(field->kind, EW_UNITS_SI, field->maximum);
  return ew_refuse(error, "%s: '%s' is outside %s to %s; %s", place, given, low, high,
                   ew_tr(field->help));
}

static gboolean set_choice(const struct ew_field *field, const char *place, const char *text,
                           void *record, GError **error) {
  for (int i = 0; field->choices[i]; i++)
    if (g_ascii_strcasecmp(field->choices[i], text) == 0) {
      *EW_FIELD_AT(int, record, field) = i;
      return TRUE;
    }
  g_autofree char *all = g_strjoinv(", ", ew_as_pointer(field->choices));
  return ew_refuse(error, "%s: '%s' is not one of %s", place, text, all);
}

/* One more of a list of words; repeated words count once. */
static gboolean add_choice(const struct ew_field *field, const char *place, const char *text,
                           guint64 *bits, GError **error) {
  guint count = g_strv_length(ew_as_pointer(field->choices));
  g_assert(count <= 64);
  for (guint i = 0; i < count; i++)
    if (g_ascii_strcasecmp(field->choices[i], text) == 0) {
      *bits |= G_GUINT64_CONSTANT(1) << i;
      return TRUE;
    }
  const char *near = ew_suggest(text, field->choices, count);
  g_autofree char *all = g_strjoinv(", ", ew_as_pointer(field->choices));
  if (near)
    return ew_refuse(error, "%s: '%s' is not known; did you mean '%s'?", place, text, near);
  return ew_refuse(error, "%s: '%s' is not one of %s", place, text, all);
}

/* "a, b", as the command line gives it. */
static gboolean set_choices(const struct ew_field *field, const char *place, const char *text,
                            void *record, GError **error) {
  g_auto(GStrv) words = g_strsplit(text, ",", 65);
  guint64 bits = 0;
  for (int i = 0; words[i]; i++)
    if (!add_choice(field, place, g_strstrip(words[i]), &bits, error))
      return FALSE;
  *EW_FIELD_AT(guint64, record, field) = bits;
  return TRUE;
}

static gboolean set_choice_list(const struct ew_field *field, const char *place,
                                const struct ew_node *node, void *record, GError **error) {
  guint64 bits = 0;
  if (node->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s: expected a list: [%s, ...]", place, field->choices[0]);
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(node->children, i);
    g_autofree char *at = g_strdup_printf("%s[%u]", place, i + 1);
    if (item->kind != EW_NODE_SCALAR)
      return ew_refuse(error, "%s: expected one word, such as %s", at, field->choices[0]);
    if (!add_choice(field, at, item->text, &bits, error))
      return FALSE;
  }
  *EW_FIELD_AT(guint64, record, field) = bits;
  return TRUE;
}

static gboolean set_quantity(const struct ew_field *field, const char *place, const char *text,
                             gboolean number, void *record, GError **error) {
  double value;
  if (number) {
    if (!ew_number_parse(text, &value))
      return ew_refuse(error, "%s: '%s' is not a number", place, text);
  } else if (!ew_quantity_parse(place, text, field->kind, &value, error))
    return FALSE;
  if (!in_range(field, place, text, value, error))
    return FALSE;
  g_assert(isfinite(value)); /* NaN says that nothing was given */
  *EW_FIELD_AT(double, record, field) = value;
  return TRUE;
}

static gboolean set_text(const struct ew_field *field, const char *place, const char *text,
                         gboolean number, void *record, GError **error) {
  double value;
  g_assert(field->name && (field->type != EW_FIELD_CHOICE || field->choices));
  switch (field->type) {
  case EW_FIELD_QUANTITY: return set_quantity(field, place, text, number, record, error);
  case EW_FIELD_INTEGER:
    if (!ew_number_parse(text, &value) || value != floor(value) || fabs(value) > 1e9)
      return ew_refuse(error, "%s: '%s' is not a whole number", place, text);
    if (!in_range(field, place, text, value, error))
      return FALSE;
    *EW_FIELD_AT(int, record, field) = (int)value;
    return TRUE;
  case EW_FIELD_BOOLEAN:
    if (strcmp(text, "yes") == 0 || strcmp(text, "true") == 0)
      *EW_FIELD_AT(gboolean, record, field) = TRUE;
    else if (strcmp(text, "no") == 0 || strcmp(text, "false") == 0)
      *EW_FIELD_AT(gboolean, record, field) = FALSE;
    else
      return ew_refuse(error, "%s: '%s' is neither yes nor no", place, text);
    return TRUE;
  case EW_FIELD_TEXT:
    if (strlen(text) > 4000 || !g_utf8_validate(text, -1, NULL))
      return ew_refuse(error, "%s: the text is longer than 4,000 bytes or not UTF-8", place);
    g_free(*EW_FIELD_AT(char *, record, field));
    *EW_FIELD_AT(char *, record, field) = g_strdup(text);
    return TRUE;
  case EW_FIELD_CHOICE: return set_choice(field, place, text, record, error);
  case EW_FIELD_NUMBERS: return ew_refuse(error, "%s: expected a list: [a, b, ...]", place);
  case EW_FIELD_CHOICES: return set_choices(field, place, text, record, error);
  }
  g_assert_not_reached();
}

static gboolean set_list(const struct ew_field *field, const char *place,
                         const struct ew_node *node, void *record, GError **error) {
  if (node->kind != EW_NODE_LIST)
    return ew_refuse(error, "%s: expected a list: [a, b, ...]", place);
  GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
  for (guint i = 0; i < node->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(node->children, i);
    double value;
    g_autofree char *at = g_strdup_printf("%s[%u]", place, i + 1);
    if (item->kind != EW_NODE_SCALAR ||
        !ew_quantity_parse(at, item->text, field->kind, &value, error) ||
        !in_range(field, at, item->text, value, error)) {
      if (item->kind != EW_NODE_SCALAR)
        ew_refuse(error, "%s: expected a figure, such as %s", at, ew_kind_examples(field->kind));
      g_array_unref(values);
      return FALSE;
    }
    g_array_append_val(values, value);
  }
  if (*EW_FIELD_AT(GArray *, record, field))
    g_array_unref(*EW_FIELD_AT(GArray *, record, field));
  *EW_FIELD_AT(GArray *, record, field) = values;
  return TRUE;
}

static gboolean read_member(const struct ew_fields *table, const struct ew_node *child,
                            const char *where, void *record, GError **error) {
  const struct ew_field *field = ew_fields_find(table, child->key);
  if (!field)
    return refuse_unknown(table, where, child->line, child->key, error);
  g_autofree char *place = child->line ? ew_words("%s, line %u: %s", where, child->line, child->key)
                                       : g_strdup_printf("%s: %s", where, child->key);
  if (field->type == EW_FIELD_NUMBERS)
    return set_list(field, place, child, record, error);
  if (field->type == EW_FIELD_CHOICES)
    return set_choice_list(field, place, child, record, error);
  if (child->kind == EW_NODE_LIST)
    return ew_refuse(error, "%s: expected one value, not a list", place);
  if (child->kind != EW_NODE_SCALAR)
    return ew_refuse(error, "%s: expected one value, not a group", place);
  return set_text(field, place, child->text, child->number, record, error);
}

static gboolean listed(const char *const *others, const char *key) {
  return others && g_strv_contains((const gchar *const *)others, key);
}

gboolean ew_fields_read(const struct ew_fields *table, const struct ew_node *map, const char *where,
                        const char *const *others, void *record, GError **error) {
  memset(record, 0, table->size);
  if (map->kind != EW_NODE_MAP)
    return ew_refuse(error, "%s, line %u: %s: expected lines of the form 'name: value'", where,
                     map->line, ew_tr(table->record));
  ew_fields_defaults(table, record);
  for (guint i = 0; i < map->children->len; i++) {
    const struct ew_node *child = g_ptr_array_index(map->children, i);
    if (!listed(others, child->key) && !read_member(table, child, where, record, error)) {
      ew_error_at_field(error, child->key);
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
  if (set_text(field, name, text, FALSE, record, error))
    return TRUE;
  ew_error_at_field(error, name);
  return FALSE;
}

void ew_fields_defaults(const struct ew_fields *table, void *record) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_QUANTITY)
      *EW_FIELD_AT(double, record, field) = NAN;
    g_autoptr(GError) error = NULL;
    if (field->fallback && !set_text(field, field->name, field->fallback, FALSE, record, &error))
      g_error("field table of %s: %s", table->record, error->message);
  }
}
