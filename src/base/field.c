/* A record by its field table: finding a field, clearing, copying and comparing. Texts and lists are owned by the record: a copy
 * has its own. */
#include "base/field_parts.h"
#include "base/language.h"
#include <math.h>
#include <string.h>

const struct ew_field *ew_fields_find(const struct ew_fields *table, const char *name) {
  for (gsize i = 0; i < table->count; i++)
    if (strcmp(table->fields[i].name, name) == 0)
      return &table->fields[i];
  return NULL;
}

void ew_fields_clear(const struct ew_fields *table, void *record) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_TEXT)
      g_clear_pointer(EW_FIELD_AT(char *, record, field), g_free);
    if (field->type == EW_FIELD_NUMBERS)
      g_clear_pointer(EW_FIELD_AT(GArray *, record, field), g_array_unref);
  }
}

void ew_fields_copy(const struct ew_fields *table, const void *from, void *to) {
  memcpy(to, from, table->size);
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (field->type == EW_FIELD_TEXT)
      *EW_FIELD_AT(char *, to, field) = g_strdup(EW_FIELD_OF(char *, from, field));
    if (field->type == EW_FIELD_NUMBERS && EW_FIELD_OF(GArray *, from, field))
      *EW_FIELD_AT(GArray *, to, field) = g_array_copy(EW_FIELD_OF(GArray *, from, field));
  }
}

gboolean ew_field_same(const struct ew_field *field, const void *a, const void *b) {
  switch (field->type) {
  case EW_FIELD_QUANTITY: {
    double x = EW_FIELD_OF(double, a, field), y = EW_FIELD_OF(double, b, field);
    return x == y || (isnan(x) && isnan(y));
  }
  case EW_FIELD_TEXT:
    return g_strcmp0(EW_FIELD_OF(char *, a, field), EW_FIELD_OF(char *, b, field)) == 0;
  case EW_FIELD_NUMBERS: {
    GArray *x = EW_FIELD_OF(GArray *, a, field), *y = EW_FIELD_OF(GArray *, b, field);
    if (!x || !y)
      return x == y;
    return x->len == y->len && memcmp(x->data, y->data, x->len * sizeof(double)) == 0;
  }
  case EW_FIELD_CHOICES: return EW_FIELD_OF(guint64, a, field) == EW_FIELD_OF(guint64, b, field);
  case EW_FIELD_INTEGER:
  case EW_FIELD_BOOLEAN:
  case EW_FIELD_CHOICE: return EW_FIELD_OF(int, a, field) == EW_FIELD_OF(int, b, field);
  }
  g_assert_not_reached();
}

gboolean ew_field_has_value(const struct ew_field *field, const void *record) {
  if (field->type == EW_FIELD_QUANTITY)
    return !isnan(EW_FIELD_OF(double, record, field));
  if (field->type == EW_FIELD_TEXT)
    return EW_FIELD_OF(char *, record, field) != NULL;
  if (field->type == EW_FIELD_NUMBERS)
    return EW_FIELD_OF(GArray *, record, field) != NULL;
  if (field->type == EW_FIELD_CHOICES)
    return EW_FIELD_OF(guint64, record, field) != 0;
  return TRUE;
}

/* The words of a list as the reader calls them, comma-separated. */
char *ew_field_words(const struct ew_field *field, const void *record) {
  GString *text = g_string_new(NULL);
  for (int i = 0; field->choices[i]; i++)
    if (EW_FIELD_OF(guint64, record, field) >> i & 1)
      g_string_append_printf(text, "%s%s", text->len ? ", " : "", ew_tr(field->choices[i]));
  return g_string_free(text, FALSE);
}
