/* One conversion after another is cut out of the format and printed by the library with its own argument; only
 * those of floating figures are looked at first. */
#include "base/words.h"
#include "base/language.h"
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define SPEC_MOST 40 /* bytes of one conversion: flags, width, precision, length, letter */

/* One conversion: "%-8.2f" with the values of its stars written into it. */
struct spec {
  char text[SPEC_MOST];
  gsize size;
  char length, letter; /* length: 0, 'h', 'l', 'q' (ll), 'z', 'j', 't' */
};

static void put(struct spec *s, char c) {
  g_assert(s->size + 1 < SPEC_MOST);
  s->text[s->size++] = c;
  s->text[s->size] = 0;
}

static void put_number(struct spec *s, int number) {
  char digits[16];
  g_snprintf(digits, sizeof digits, "%d", number);
  for (const char *c = digits; *c; c++)
    put(s, *c);
}

int ew_columns(const char *text) {
  int columns = 0;
  for (const char *at = text; *at;) {
    gunichar c = g_utf8_get_char_validated(at, -1);
    gboolean whole = c != (gunichar)-1 && c != (gunichar)-2;
    columns += !whole ? 1 : g_unichar_iszerowidth(c) ? 0 : g_unichar_iswide(c) ? 2 : 1;
    at = whole ? g_utf8_next_char(at) : at + 1;
  }
  return columns;
}

struct arguments {
  va_list list; /* in a struct, so that it can be handed on */
};

static const char *read_spec(const char *at, struct spec *s, struct arguments *a) {
  *s = (struct spec){0};
  put(s, *at++);
  for (; *at && strchr("-+ #0123456789.*'", *at); at++)
    if (*at == '*')
      put_number(s, va_arg(a->list, int));
    else
      put(s, *at);
  for (; *at && strchr("hlqjzt", *at); at++) {
    s->length = s->length == 'l' && *at == 'l' ? 'q' : *at;
    put(s, *at);
  }
  s->letter = *at;
  if (*at)
    put(s, *at++);
  return at;
}

static void add_whole(GString *out, const struct spec *s, struct arguments *a) {
  switch (s->length) {
  case 'l': g_string_append_printf(out, s->text, va_arg(a->list, long)); return;
  case 'q': g_string_append_printf(out, s->text, va_arg(a->list, long long)); return;
  case 'z': g_string_append_printf(out, s->text, va_arg(a->list, size_t)); return;
  case 'j': g_string_append_printf(out, s->text, va_arg(a->list, intmax_t)); return;
  case 't': g_string_append_printf(out, s->text, va_arg(a->list, ptrdiff_t)); return;
  }
  g_string_append_printf(out, s->text, va_arg(a->list, int));
}

/* The text from `from` on, filled up with spaces to the conversion's width, in columns of a terminal: printf counts bytes, and
 * a table with an umlaut in it would lose its edge. */
static void pad(GString *out, gsize from, const struct spec *s) {
  const char *digits = s->text + 1 + strspn(s->text + 1, "-+ #0'");
  int room = atoi(digits) - ew_columns(out->str + from);
  gboolean left = memchr(s->text, '-', (gsize)(digits - s->text)) != NULL;
  for (; room > 0; room--)
    g_string_insert_c(out, left ? -1 : (gssize)from, ' ');
}

/* "7000" as "7,000", from the figure that begins at `from`. */
static void group(GString *out, gsize from) {
  gsize first = from + strspn(out->str + from, "+-");
  gsize end = first + strspn(out->str + first, "0123456789");
  for (gsize at = end; at > first + 3;) {
    at -= 3;
    g_string_insert(out, (gssize)at, ew_language_thousands());
  }
}

/* Flags and width of the conversion stay; precision, sign and zeros go. */
static void add_figure(GString *out, const struct spec *s, double value) {
  gsize from = out->len;
  gboolean grouped = strchr(s->text, '#') != NULL && s->letter == 'f';
  if (!isfinite(value))
    g_string_append_c(out, '-');
  else if (grouped) {
    g_autofree char *plain = g_strdup(s->text);
    gsize flags = strspn(plain + 1, "-+ #0'"), width = strspn(plain + 1 + flags, "0123456789");
    memmove(plain + 1, plain + 1 + flags + width, strlen(plain + 1 + flags + width) + 1);
    g_string_append_printf(out, plain, value);
  } else
    g_string_append_printf(out, s->text, value);
  char *mark = isfinite(value) ? strchr(out->str + from, '.') : NULL;
  if (mark)
    *mark = ew_language_decimal();
  if (isfinite(value) && grouped)
    group(out, from);
  if (!isfinite(value) || grouped)
    pad(out, from, s);
}

/* The library pads by bytes: it cuts to the precision, and the width is ours. */
static void add_text(GString *out, const struct spec *s, const char *text) {
  gsize from = out->len, flags = strspn(s->text + 1, "-+ #0'"),
        width = strspn(s->text + 1 + flags, "0123456789");
  const char *precision = s->text + 1 + flags + width;
  g_autofree char *plain = g_strconcat("%", precision, NULL);
  g_string_append_printf(out, plain, text);
  pad(out, from, s);
}

static void add_one(GString *out, const struct spec *s, struct arguments *a) {
  switch (s->letter) {
  case '%': g_string_append_c(out, '%'); return;
  case 's': add_text(out, s, va_arg(a->list, const char *)); return;
  case 'p': g_string_append_printf(out, s->text, va_arg(a->list, void *)); return;
  }
  if (strchr("aAeEfFgG", s->letter))
    add_figure(out, s, va_arg(a->list, double));
  else {
    g_assert(strchr("diuoxXc", s->letter)); /* anything else is a mistake of this program */
    add_whole(out, s, a);
  }
}

static void append_v(GString *out, const char *format, va_list list) {
  struct arguments a;
  va_copy(a.list, list);
  for (const char *at = format; *at;) {
    gsize plain = strcspn(at, "%");
    g_string_append_len(out, at, (gssize)plain);
    at += plain;
    if (!*at)
      break;
    struct spec spec;
    at = read_spec(at, &spec, &a);
    g_assert(spec.letter);
    add_one(out, &spec, &a);
  }
  va_end(a.list);
}

char *ew_words_v(const char *format, va_list arguments) {
  GString *out = g_string_new(NULL);
  append_v(out, ew_tr(format), arguments);
  return g_string_free(out, FALSE);
}

char *ew_words(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  char *text = ew_words_v(format, arguments);
  va_end(arguments);
  return text;
}

void ew_words_append(GString *text, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  append_v(text, ew_tr(format), arguments);
  va_end(arguments);
}

char *ew_exact(const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  const ew_language *former = ew_language_of_thread(ew_language_english());
  GString *out = g_string_new(NULL);
  append_v(out, format, arguments);
  ew_language_of_thread(former);
  va_end(arguments);
  return g_string_free(out, FALSE);
}
