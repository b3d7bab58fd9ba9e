/* Three ways to set an error (refused, asked, failed); each returns FALSE, so that a function can end with it. The
 * texts are built in one place, so that they can be measured and translated in one place. */
#include "base/error.h"
#include "base/words.h"

/* clang-format off */
G_DEFINE_QUARK(ew-error-quark, ew_error)
/* clang-format on */

static gboolean set(GError **error, int code, const char *format, va_list arguments) {
  if (error && !*error) { /* the first one is the cause */
    g_autofree char *text = ew_words_v(format, arguments);
    g_set_error_literal(error, EW_ERROR, code, text);
  }
  return FALSE;
}

gboolean ew_refuse(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_INPUT, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_ask(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_ASKS, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_fail(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_INTERNAL, format, arguments);
  va_end(arguments);
  return FALSE;
}
