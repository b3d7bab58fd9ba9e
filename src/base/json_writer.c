/* JSON onto a string, comma by comma; the caller opens and closes in order. Control characters (C0, DEL, C1) are
 * escaped, and bytes that are no UTF-8 replaced by U+FFFD, so that an answer is always valid and steers no terminal. */
#include "base/json_writer.h"
#include "base/as_pointer.h"
#include "base/number.h"
#include <math.h>

/* Is it written as it is? */
static gboolean is_plain(guchar c) {
  return c >= 0x20 && c != '"' && c != '\\' && c != 0x7f && c != 0xc2;
}

/* One that may not be; behind it. */
static const char *escape(GString *text, const char *c) {
  if (*c == '"' || *c == '\\')
    g_string_append_printf(text, "\\%c", *c);
  else if (*c == '\n')
    g_string_append(text, "\\n");
  else if ((guchar)*c < 0x20 || *c == 0x7f)
    g_string_append_printf(text, "\\u%04x", (guchar)*c);
  else if ((guchar)c[1] >= 0x80 && (guchar)c[1] < 0xa0) /* C1 steers terminals, too */
    g_string_append_printf(text, "\\u%04x", (guint)(guchar) * ++c);
  else
    g_string_append_c(text, *c);
  return c + 1;
}

static void quote(GString *text, const char *value) {
  g_string_append_c(text, '"');
  for (const char *c = value; *c; c = *c ? escape(text, c) : c) {
    const char *from = c;
    while (is_plain((guchar)*c))
      c++;
    g_string_append_len(text, from, c - from);
  }
  g_string_append_c(text, '"');
}

static void begin(struct ew_json *json, const char *key) {
  if (json->comma)
    g_string_append_c(json->text, ',');
  json->comma = TRUE;
  if (key) {
    quote(json->text, key);
    g_string_append_c(json->text, ':');
  }
}

void ew_json_open(struct ew_json *json, const char *key) {
  begin(json, key);
  g_string_append_c(json->text, '{');
  json->comma = FALSE;
}

void ew_json_close(struct ew_json *json) {
  g_string_append_c(json->text, '}');
  json->comma = TRUE;
}

void ew_json_open_array(struct ew_json *json, const char *key) {
  begin(json, key);
  g_string_append_c(json->text, '[');
  json->comma = FALSE;
}

void ew_json_close_array(struct ew_json *json) {
  g_string_append_c(json->text, ']');
  json->comma = TRUE;
}

void ew_json_number(struct ew_json *json, const char *key, double value) {
  char buffer[EW_NUMBER_SIZE];
  begin(json, key);
  g_string_append(json->text, ew_number_write(value, buffer));
}

void ew_json_integer(struct ew_json *json, const char *key, gint64 value) {
  begin(json, key);
  g_string_append_printf(json->text, "%" G_GINT64_FORMAT, value);
}

void ew_json_boolean(struct ew_json *json, const char *key, gboolean value) {
  begin(json, key);
  g_string_append(json->text, value ? "true" : "false");
}

void ew_json_text(struct ew_json *json, const char *key, const char *value) {
  begin(json, key);
  if (!value) {
    g_string_append(json->text, "null");
    return;
  }
  g_autofree char *valid = g_utf8_validate(value, -1, NULL) ? NULL : g_utf8_make_valid(value, -1);
  quote(json->text, valid ? valid : value);
}

#define FAST_MOST                                                                                  \
  9 /* figures: 10^9 times what a product of doubles is wrong by is far below NEAR_TIE */
#define NEAR_TIE 1e-6

/* `value` as printf's %.*g writes it, at a tenth of its cost; NULL where that needs an exponent, or where more than a double tells
 * which way to round. Powers of ten up to 22 are exact in a double. */
static const char *write_figures(double value, int figures, char *buffer) {
  static const double tens[] = {1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  double size = fabs(value);
  if (figures < 1 || figures > FAST_MOST || !(size >= 1e-4 && size < tens[figures]))
    return NULL;
  int above = 0; /* digits before the point; below one: less zeros behind it */
  while (size >= tens[above])
    above++;
  for (double next = size * 10; above <= 0 && next < 1; next *= 10)
    above--;
  int decimals = figures - above;
  double scaled = size * tens[decimals], whole = floor(scaled), rest = scaled - whole;
  if (fabs(rest - 0.5) < NEAR_TIE)
    return NULL;
  guint64 digits = (guint64)whole + (rest > 0.5);
  if (digits < (guint64)tens[figures - 1] || digits >= (guint64)tens[figures])
    return NULL;
  while (decimals > 0 && digits % 10 == 0) {
    digits /= 10;
    decimals--;
  }
  char *end = buffer + EW_NUMBER_SIZE - 1, *at = end;
  *at = '\0';
  for (int k = 0; digits > 0 || k <= decimals; k++, digits /= 10) {
    if (k == decimals && k > 0)
      *--at = '.';
    *--at = (char)('0' + digits % 10);
  }
  if (value < 0)
    *--at = '-';
  return at;
}

void ew_json_numbers(struct ew_json *json, const char *key, const double *values, gsize count) {
  ew_json_open_array(json, key);
  char format[8], buffer[EW_NUMBER_SIZE];
  int figures = CLAMP(json->figures, 1, 17);
  g_snprintf(format, sizeof format, "%%.%dg", figures);
  for (gsize i = 0; i < count; i++)
    if (json->figures == 0 || !isfinite(values[i]))
      ew_json_number(json, NULL, values[i]);
    else {
      begin(json, NULL);
      const char *fast = write_figures(values[i], figures, buffer);
      g_string_append(json->text,
                      fast ? fast : g_ascii_formatd(buffer, sizeof buffer, format, values[i]));
    }
  ew_json_close_array(json);
}

void ew_json_texts(struct ew_json *json, const char *key, const GPtrArray *values) {
  ew_json_open_array(json, key);
  for (guint i = 0; i < values->len; i++)
    ew_json_text(json, NULL, g_ptr_array_index(values, i));
  ew_json_close_array(json);
}

void ew_json_rows(struct ew_json *json, const char *key, const GArray *rows, ew_json_row write) {
  gsize size = rows ? g_array_get_element_size(ew_as_pointer(rows)) : 0;
  ew_json_open_array(json, key);
  for (guint i = 0; rows && i < rows->len; i++) {
    ew_json_open(json, NULL);
    write(rows->data + i * size, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}
