/* Five ways to set an error; each returns FALSE, so that a function can end with it. The texts are built in one place, so
 * that they can be measured and translated in one place; a remedy is kept beside the message. */
#include "base/error.h"
#include "base/words.h"

/* What an error of our domain holds beside its message (GLib, "Extended GError Domains"). */
typedef struct {
  enum ew_remedy remedy;
  char *field; /* or NULL */
} EwErrorPrivate;

static void ew_error_private_init(EwErrorPrivate *p) {
  p->remedy = EW_REMEDY_NONE;
  p->field = NULL;
}

static void ew_error_private_copy(const EwErrorPrivate *from, EwErrorPrivate *to) {
  *to = *from;
  to->field = g_strdup(from->field);
}

static void ew_error_private_clear(EwErrorPrivate *p) {
  g_free(p->field);
}

/* clang-format off */
G_DEFINE_EXTENDED_ERROR(EwError, ew_error)
/* clang-format on */

static void set(GError **error, int code, enum ew_remedy remedy, const char *format,
                va_list arguments) {
  if (!error || *error) /* the first one is the cause */
    return;
  g_autofree char *text = ew_words_v(format, arguments);
  g_set_error_literal(error, EW_ERROR, code, text);
  ew_error_get_private(*error)->remedy = remedy;
}

gboolean ew_refuse(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_INPUT, EW_REMEDY_NONE, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_refuse_with(GError **error, enum ew_remedy remedy, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_INPUT, remedy, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_ask(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_ASKS, EW_REMEDY_SAY_SURE, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_answer_no(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_NO, EW_REMEDY_NONE, format, arguments);
  va_end(arguments);
  return FALSE;
}

gboolean ew_fail(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  set(error, EW_ERROR_INTERNAL, EW_REMEDY_NONE, format, arguments);
  va_end(arguments);
  return FALSE;
}

enum ew_remedy ew_error_remedy(const GError *error) {
  return error->domain == EW_ERROR ? ew_error_get_private(error)->remedy : EW_REMEDY_NONE;
}

const char *ew_error_field(const GError *error) {
  return error->domain == EW_ERROR ? ew_error_get_private(error)->field : NULL;
}

static char **field_of(GError **error) {
  return error && *error && (*error)->domain == EW_ERROR ? &ew_error_get_private(*error)->field
                                                         : NULL;
}

void ew_error_at_field(GError **error, const char *field) {
  char **own = field_of(error);
  if (own && !*own)
    *own = g_strdup(field);
}

void ew_error_in_group(GError **error, const char *group) {
  char **own = field_of(error);
  if (!own || !*own)
    return;
  char *within = g_strdup_printf("%s.%s", group, *own);
  g_free(*own);
  *own = within;
}

char *ew_error_says(const GError *error, enum ew_place place) {
  const char *remedy = ew_remedy_at(ew_error_remedy(error), place);
  return remedy ? g_strdup_printf("%s; %s", error->message, remedy) : g_strdup(error->message);
}
