/* A record as JSON and as canonical YAML: fields that have a value, in the table's order, in inside units, every double with all
 * its digits. The YAML reads back to the same bits; books keep it. */
#include "base/field_parts.h"
#include "base/number.h"
#include <string.h>

void ew_fields_write_json(const struct ew_fields *table, const void *record, struct ew_json *json) {
  for (gsize i = 0; i < table->count; i++) {
    const struct ew_field *field = &table->fields[i];
    if (!ew_field_has_value(field, record))
      continue;
    g_autofree char *key = g_strconcat(field->name, ew_kind_suffix(field->kind), NULL);
    switch (field->type) {
    case EW_FIELD_QUANTITY: ew_json_number(json, key, EW_FIELD_OF(double, record, field)); break;
    case EW_FIELD_INTEGER:
      ew_json_integer(json, field->name, EW_FIELD_OF(int, record, field));
      break;
    case EW_FIELD_BOOLEAN:
      ew_json_boolean(json, field->name, EW_FIELD_OF(gboolean, record, field));
      break;
    case EW_FIELD_TEXT: ew_json_text(json, field->name, EW_FIELD_OF(char *, record, field)); break;
    case EW_FIELD_CHOICE:
      ew_json_text(json, field->name, field->choices[EW_FIELD_OF(int, record, field)]);
      break;
    case EW_FIELD_NUMBERS: {
      const GArray *list = EW_FIELD_OF(GArray *, record, field);
      ew_json_numbers(json, key, (const double *)(void *)list->data, list->len);
      break;
    }
    case EW_FIELD_CHOICES:
      ew_json_open_array(json, field->name);
      for (int k = 0; field->choices[k]; k++)
        if (EW_FIELD_OF(guint64, record, field) >> k & 1)
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
    if (!ew_field_has_value(field, record))
      continue;
    g_string_append_printf(text, "%s: ", field->name);
    switch (field->type) {
    case EW_FIELD_QUANTITY: append_exact(text, field, EW_FIELD_OF(double, record, field)); break;
    case EW_FIELD_INTEGER:
      g_string_append_printf(text, "%d", EW_FIELD_OF(int, record, field));
      break;
    case EW_FIELD_BOOLEAN:
      g_string_append(text, EW_FIELD_OF(int, record, field) ? "yes" : "no");
      break;
    case EW_FIELD_TEXT: append_quoted(text, EW_FIELD_OF(char *, record, field)); break;
    case EW_FIELD_CHOICE:
      g_string_append(text, field->choices[EW_FIELD_OF(int, record, field)]);
      break;
    case EW_FIELD_NUMBERS: {
      const GArray *list = EW_FIELD_OF(GArray *, record, field);
      g_string_append_c(text, '[');
      for (guint j = 0; j < list->len; j++) {
        g_string_append(text, j ? ", " : "");
        append_exact(text, field, g_array_index(list, double, j));
      }
      g_string_append_c(text, ']');
      break;
    }
    case EW_FIELD_CHOICES: {
      g_autofree char *keys = ew_field_typed(field, record);
      g_string_append_printf(text, "[%s]", keys ? keys : "");
      break;
    }
    }
    g_string_append_c(text, '\n');
  }
  return g_string_free(text, FALSE);
}
