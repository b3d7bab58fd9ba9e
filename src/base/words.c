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

/* Flags and width of the conversion stay; precision, sign and zeros go. */
static void add_figure(GString *out, const struct spec *s, double value) {
  if (isfinite(value)) {
    gsize from = out->len;
    g_string_append_printf(out, s->text, value);
    char *mark = ew_language_decimal() == '.' ? NULL : strchr(out->str + from, '.');
    if (mark)
      *mark = ew_language_decimal();
    return;
  }
  const char *digits = s->text + 1 + strspn(s->text + 1, "-+ #0'");
  int width = atoi(digits);
  gboolean left = memchr(s->text, '-', (gsize)(digits - s->text)) != NULL;
  g_string_append_printf(out, "%*s", left ? -width : width, "-");
}

static void add_one(GString *out, const struct spec *s, struct arguments *a) {
  switch (s->letter) {
  case '%': g_string_append_c(out, '%'); return;
  case 's': g_string_append_printf(out, s->text, va_arg(a->list, const char *)); return;
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
