/* SQL through the port: values in by a letter each, values out by column. Knows no store. */
#include "book/sql.h"
#include "base/error.h"
#include "base/words.h"
#include "book/origin.h"
#include <math.h>
#include <string.h>

/* The first of each, of this thread. Damage is remembered though somebody heard of it. */
static GPrivate damage = G_PRIVATE_INIT((GDestroyNotify)g_error_free);
static GPrivate unheard = G_PRIVATE_INIT((GDestroyNotify)g_error_free);

static GError *take(GPrivate *kept) {
  GError *first = g_private_get(kept);
  g_private_set(kept, NULL);
  return first;
}

GError *ew_sql_take_unheard(void) {
  return take(&unheard);
}

GError *ew_book_take_trouble(void) {
  GError *damaged = take(&damage);
  g_autoptr(GError) other = take(&unheard);
  return damaged ? damaged : g_steal_pointer(&other);
}

void ew_book_forget_trouble(void) {
  g_private_replace(&damage, NULL);
  g_private_replace(&unheard, NULL);
}

/* A failure goes to who asked for it; where nobody did, it is kept for the end of the command or request. */
gboolean ew_sql_tell(GError *problem, GError **error) {
  if (!problem)
    return TRUE;
  if (error)
    g_propagate_error(error, problem);
  else if (g_private_get(&unheard))
    g_error_free(problem);
  else
    g_private_set(&unheard, problem);
  return FALSE;
}

gboolean ew_sql_damaged(GError **error, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *what = ew_words_v(format, arguments);
  va_end(arguments);
  g_autoptr(GError) problem = NULL;
  ew_refuse_with(&problem, EW_REMEDY_VERIFY, "the book is damaged: %s", what);
  if (!g_private_get(&damage))
    g_private_set(&damage, g_error_copy(problem));
  if (error && !*error)
    g_propagate_error(error, g_steal_pointer(&problem));
  return FALSE;
}

static void bind_text(struct ew_port_rows *rows, int index, const char *text) {
  g_autofree char *valid =
      text ? g_utf8_make_valid(text, -1) : NULL; /* a file's name can be any bytes */
  struct ew_port_value value = {valid ? EW_PORT_TEXT : EW_PORT_NULL, .bytes = valid,
                                .size = valid ? strlen(valid) : 0};
  rows->port->class->bind(rows, index, &value);
}

static void bind_origin(struct ew_port_rows *rows, int *index, const struct ew_origin *o) {
  const char *texts[] = {o->uid, o->cell, o->writer, o->day};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    bind_text(rows, ++*index, texts[i]);
}

static void bind_values(struct ew_port_rows *rows, const char *types, va_list arguments) {
  int index = 0;
  for (int i = 0; types[i]; i++) {
    struct ew_port_value value = {.kind = EW_PORT_NUMBER};
    if (types[i] == 't') {
      bind_text(rows, ++index, va_arg(arguments, const char *));
      continue;
    }
    if (types[i] == 'o') {
      bind_origin(rows, &index, va_arg(arguments, const struct ew_origin *));
      continue;
    }
    if (types[i] == 'i')
      value.number = va_arg(arguments, gint64);
    else if (types[i] == 'd') {
      value.real = va_arg(arguments, double);
      value.kind = isnan(value.real) ? EW_PORT_NULL : EW_PORT_REAL;
    } else if (types[i] == 'z') {
      value.kind = EW_PORT_ZEROES;
      value.size = va_arg(arguments, gsize);
    } else {
      g_assert(types[i] == 'b');
      value.kind = EW_PORT_BYTES;
      value.bytes = va_arg(arguments, const void *);
      value.size = va_arg(arguments, gsize);
    }
    rows->port->class->bind(rows, ++index, &value);
  }
}

static struct ew_port_rows *prepare(struct ew_port *port, GError **error, const char *sql,
                                    const char *types, va_list arguments) {
  GError *problem = NULL;
  struct ew_port_rows *rows = port->class->prepare(port, sql, &problem);
  if (rows)
    bind_values(rows, types, arguments);
  else
    ew_sql_tell(problem, error);
  return rows;
}

struct ew_port_rows *ew_sql_query(struct ew_port *port, GError **error, const char *sql,
                                  const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  struct ew_port_rows *rows = prepare(port, error, sql, types, arguments);
  va_end(arguments);
  return rows;
}

static enum ew_port_answer step(struct ew_port_rows *rows, GError **error) {
  GError *problem = NULL;
  enum ew_port_answer answer = rows->port->class->step(rows, &problem);
  rows->port->again |= answer == EW_PORT_AGAIN;
  g_assert((problem != NULL) == (answer == EW_PORT_AGAIN || answer == EW_PORT_FAILED));
  ew_sql_tell(problem, error);
  return answer;
}

gboolean ew_sql_next(struct ew_port_rows *rows, GError **error) {
  return rows && step(rows, error) == EW_PORT_ROW;
}

void ew_sql_done(struct ew_port_rows *rows) {
  if (rows)
    rows->port->class->finish(rows);
}

gboolean ew_sql_run(struct ew_port *port, GError **error, const char *sql, const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  struct ew_port_rows *rows = prepare(port, error, sql, types, arguments);
  va_end(arguments);
  enum ew_port_answer answer = rows ? EW_PORT_ROW : EW_PORT_FAILED;
  while (answer == EW_PORT_ROW)
    answer = step(rows, error);
  ew_sql_done(rows);
  return answer == EW_PORT_DONE;
}

gint64 ew_sql_insert(struct ew_port *port, GError **error, const char *sql, const char *types,
                     ...) {
  va_list arguments;
  va_start(arguments, types);
  struct ew_port_rows *rows = prepare(port, error, sql, types, arguments);
  va_end(arguments);
  gint64 id = 0;
  if (ew_sql_next(rows, error)) {
    id = ew_sql_int(rows, 0);
    if (step(rows, error) != EW_PORT_DONE)
      id = 0;
  }
  ew_sql_done(rows);
  return id;
}

static gboolean number(struct ew_port *port, gint64 *value, GError **error, const char *sql,
                       const char *types, va_list arguments) {
  GError *problem = NULL;
  struct ew_port_rows *rows = prepare(port, &problem, sql, types, arguments);
  *value = ew_sql_next(rows, &problem) ? ew_sql_int(rows, 0) : 0;
  ew_sql_done(rows);
  return ew_sql_tell(problem, error);
}

gboolean ew_sql_number(struct ew_port *port, gint64 *value, GError **error, const char *sql,
                       const char *types, ...) {
  va_list arguments;
  va_start(arguments, types);
  gboolean good = number(port, value, error, sql, types, arguments);
  va_end(arguments);
  return good;
}

gboolean ew_sql_is(struct ew_port *port, gboolean *is, GError **error, const char *sql,
                   const char *types, ...) {
  va_list arguments;
  gint64 value;
  va_start(arguments, types);
  gboolean good = number(port, &value, error, sql, types, arguments);
  va_end(arguments);
  *is = good && value != 0;
  return good;
}

gint64 ew_sql_int(struct ew_port_rows *rows, int column) {
  return rows->port->class->number(rows, column);
}

double ew_sql_double(struct ew_port_rows *rows, int column) {
  return rows->port->class->is_null(rows, column) ? (double)NAN
                                                  : rows->port->class->real(rows, column);
}

const char *ew_sql_peek(struct ew_port_rows *rows, int column) {
  return rows->port->class->text(rows, column);
}

char *ew_sql_text(struct ew_port_rows *rows, int column) {
  const char *text = ew_sql_peek(rows, column);
  return text ? g_utf8_make_valid(text, -1) : NULL;
}

const void *ew_sql_bytes(struct ew_port_rows *rows, int column, gsize *size) {
  return rows->port->class->bytes(rows, column, size);
}

GBytes *ew_sql_blob(struct ew_port_rows *rows, int column) {
  gsize size;
  const void *bytes = ew_sql_bytes(rows, column, &size);
  return g_bytes_new(bytes, size);
}
