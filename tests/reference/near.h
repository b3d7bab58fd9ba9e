/* What the reference tests share: comparing doubles, and reading the published data beside them. */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <glib.h>
#include <math.h>
#include <string.h>

static inline void near_at(double got, double want, double tolerance, const char *what,
                           const char *file, int line) {
  if (!(fabs(got - want) <= tolerance)) {
    print_error("%s: got %.15g, wanted %.15g within %.3g\n", what, got, want, tolerance);
    _fail(file, line);
  }
}
#define assert_near(got, want, tolerance) near_at(got, want, tolerance, #got, __FILE__, __LINE__)
#define assert_relative(got, want, part)                                                           \
  near_at(got, want, fabs((double)(want)) * (part), #got, __FILE__, __LINE__)
/* The same, for rows of a table: `says` names the row. */
#define assert_near_says(got, want, tolerance, says)                                               \
  near_at(got, want, tolerance, says, __FILE__, __LINE__)
#define assert_relative_says(got, want, part, says)                                                \
  near_at(got, want, fabs((double)(want)) * (part), says, __FILE__, __LINE__)
#define assert_true_says(truth, says)                                                              \
  do {                                                                                             \
    if (!(truth)) {                                                                                \
      print_error("%s\n", says);                                                                   \
      _fail(__FILE__, __LINE__);                                                                   \
    }                                                                                              \
  } while (0)

/* The text of a file under tests/reference/data; freed by the caller. */
static inline char *data_text(const char *name) {
  const char *data = g_getenv("EW_TEST_DATA");
  g_autofree char *path = g_build_filename(data ? data : "tests/reference/data", name, NULL);
  char *text = NULL;
  assert_true_says(g_file_get_contents(path, &text, NULL, NULL), path);
  return text;
}

/* Its lines, without carriage returns; blank ones at the end are left out. */
static inline char **data_lines(const char *name) {
  g_autofree char *text = data_text(name);
  g_auto(GStrv) apart = g_strsplit(text, "\r", -1);
  g_autofree char *joined = g_strjoinv("", apart);
  return g_strsplit(g_strchomp(joined), "\n", -1);
}

/* The cells of a line of comma-separated values; quotes hold commas. */
static inline char **cells_of(const char *line) {
  GPtrArray *cells = g_ptr_array_new();
  GString *cell = g_string_new(NULL);
  gboolean quoted = FALSE;
  for (const char *c = line;; c++) {
    if (*c == '"')
      quoted = !quoted;
    else if (*c == '\0' || (*c == ',' && !quoted)) {
      g_ptr_array_add(cells, g_strdup(cell->str));
      g_string_truncate(cell, 0);
      if (*c == '\0')
        break;
    } else
      g_string_append_c(cell, *c);
  }
  g_ptr_array_add(cells, NULL);
  g_string_free(cell, TRUE);
  return (char **)g_ptr_array_free(cells, FALSE);
}

/* The figure after "NAME=" in a text such as "T=25 degC; p=101325 Pa"; NaN when it is not there. */
static inline double named(const char *text, const char *name) {
  g_auto(GStrv) parts = g_strsplit(text, ";", -1);
  for (int i = 0; parts[i]; i++) {
    const char *part = g_strstrip(parts[i]);
    gsize length = strlen(name);
    if (strncmp(part, name, length) == 0 && part[length] == '=')
      return g_ascii_strtod(part + length + 1, NULL);
  }
  return NAN;
}
