/* The line parser: what a logger may send, whole, in pieces, broken. Numbers are held against the
 * C library's strtod (ISO C 7.22.1.3). */
#include "near.h"
#include "cell/line_parser.h"
#include <stdlib.h>

struct heard {
  GString *heads, *events;
  guint rows, channels;
  double time_s, values[16];
};

static void head(gpointer user, const struct ew_source_channels *channels) {
  struct heard *h = user;
  h->channels = channels->count;
  for (guint i = 0; i < channels->count; i++)
    g_string_append_printf(h->heads, "%s%s|%s", i ? ";" : "", channels->names[i],
                           channels->units[i]);
  g_string_append_c(h->heads, '\n');
}

static void frame(gpointer user, double time_s, double arrival_s, const double *values) {
  struct heard *h = user;
  (void)arrival_s;
  h->rows++;
  h->time_s = time_s;
  for (guint i = 0; i < MIN(h->channels, 16); i++)
    h->values[i] = values[i];
}

static void event(gpointer user, enum ew_source_event which, const char *text) {
  struct heard *h = user;
  (void)text;
  g_string_append_printf(h->events, "%s,", ew_source_event_names[which]);
}

static struct heard hear(const char *text, gsize size, gsize piece) {
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  struct ew_source_sink sink = {head, frame, event, &h};
  g_autoptr(ew_line_parser) parser = ew_line_parser_new();
  double now = 100;
  for (gsize at = 0; at < size; at += piece, now += 2)
    ew_line_parser_feed(parser, text + at, MIN(piece, size - at), now, &sink);
  ew_line_parser_break(parser, TRUE, now, &sink);
  return h;
}

static void forget(struct heard *h) {
  g_string_free(h->heads, TRUE);
  g_string_free(h->events, TRUE);
}

static const struct {
  const char *says, *text, *heads, *events;
  guint rows;
  double time_s, first;
} cases[] = {
    {"names with units in brackets", "Time [s],RPM [rpm],Oil pressure [bar]\n0.5,3000,4.1\n",
     "RPM|rpm;Oil pressure|bar\n", "", 1, 0.5, 3000},
    {"units in a row of their own", "time;rpm;tq\ns;rpm;N.m\n1;2;3\n", "rpm|rpm;tq|N.m\n", "", 1, 1,
     2},
    {"a decimal comma", "Zeit [ms];Drehzahl [rpm]\n1500;3000,25\n", "Drehzahl|rpm\n", "", 1, 1.5,
     3000.25},
    {"tabs and line ends of two bytes", "time [s]\trpm [rpm]\r\n2\t-1e3\r\n", "rpm|rpm\n", "", 1, 2,
     -1000},
    {"blanks apart", "time rpm torque\n 1.0   2500  200 \n", "rpm|;torque|\n", "", 1, 1, 2500},
    {"a preamble before the header", "Logger 7\n\nTime [s],RPM [rpm]\n1,2\n", "RPM|rpm\n", "", 1, 1,
     2},
    {"an answer to a command", "# ok\nt [s],rpm\n1,2\n", "rpm|\n", "reply,", 1, 1, 2},
    {"a row too short is refused", "t [s],rpm,tq\n1,2,3\n2,3\n3,4,5\n", "rpm|;tq|\n", "garbage,", 2,
     3, 4},
    {"an empty cell is no figure", "t [s],rpm,tq\n1,,3\n", "rpm|;tq|\n", "", 1, 1, NAN},
    {"a word in a row is no figure", "t [s],rpm,tq\n1,err,3\n", "rpm|;tq|\n", "", 1, 1, NAN},
    {"an infinite figure is none", "t [s],rpm,tq\n1,1e999,3\n", "rpm|;tq|\n", "", 1, 1, NAN},
    {"another header", "t [s],rpm,tq\n1,2,3\nt [s],rpm\n4,5\n", "rpm|;tq|\nrpm|\n",
     "header changed,", 2, 4, 5},
    {"the same header again", "t [s],rpm\n1,2\nt [s],rpm\n0,5\n", "rpm|\n", "repeated,", 2, 0, 5},
    {"time goes back", "t [s],rpm\n5,2\n1,3\n", "rpm|\n", "time went back,", 2, 1, 3},
    {"a row again is no other sample", "t [s],rpm\n5,2\n5,2\n", "rpm|\n", "repeated,", 1, 5, 2},
    {"the same figures at another time are one", "t [s],rpm\n5,2\n6,2\n", "rpm|\n", "", 2, 6, 2},
    {"a last line without an end", "t [s],rpm\n1,2\n2,3", "rpm|\n", "", 2, 2, 3},
    {"nothing at all", "", "", "", 0, 0, 0},
};

static void test_cases(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
    for (gsize piece = 1; piece < 200; piece = piece * 3 + 1) {
      struct heard h = hear(cases[i].text, strlen(cases[i].text), piece);
      if (strcmp(h.heads->str, cases[i].heads) || strcmp(h.events->str, cases[i].events) ||
          h.rows != cases[i].rows)
        fail_msg("%s, in pieces of %zu: heads '%s', events '%s', %u rows", cases[i].says, piece,
                 h.heads->str, h.events->str, h.rows);
      if (h.rows) {
        assert_near(h.time_s, cases[i].time_s, 0);
        if (isnan(cases[i].first))
          assert_true(isnan(h.values[0]));
        else
          assert_near(h.values[0], cases[i].first, 0);
      }
      forget(&h);
    }
}

static void test_a_line_without_end(void **state) {
  (void)state;
  GString *text = g_string_new("t [s],rpm\n1,2\n");
  for (int i = 0; i < 300000; i++)
    g_string_append(text, "9");
  g_string_append(text, "\n2,3\n");
  struct heard h = hear(text->str, text->len, 4096);
  assert_int_equal(h.rows, 2);
  assert_string_equal(h.events->str, "garbage,");
  forget(&h);
  g_string_free(text, TRUE);
}

static void test_rows_without_header(void **state) {
  (void)state;
  GString *text = g_string_new(NULL);
  for (int i = 0; i < 30; i++)
    g_string_append_printf(text, "%d,%d\n", i, 2 * i);
  struct heard h = hear(text->str, text->len, text->len);
  assert_string_equal(h.heads->str, "column 1|;column 2|\n");
  assert_int_equal(h.rows, 10); /* after twenty rows of patience */
  forget(&h);
  g_string_free(text, TRUE);
}

static void test_numbers_are_strtod(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(20261125);
  for (int i = 0; i < 20000; i++) {
    double value = (g_rand_double(random) - 0.5) * pow(10, g_rand_int_range(random, -20, 20));
    char cell[48], line[96];
    g_snprintf(cell, sizeof cell, i % 3 ? "%.9g" : "%.17g", value);
    g_snprintf(line, sizeof line, "a,b\n1,%s\n", cell);
    struct heard h = hear(line, strlen(line), 100);
    assert_near(h.values[1], strtod(cell, NULL), 0);
    forget(&h);
  }
}

/* 20,000 lines of rubbish, cut, doubled and mixed with good rows: nothing but the good rows may come
 * out with the right number of channels, and nothing may break. */
static void test_rubbish(void **state) {
  (void)state;
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  GString *text = g_string_new("t [s],rpm [rpm],tq [N.m]\n");
  guint good = 0;
  for (int i = 0; i < 20000; i++) {
    if (g_rand_int_range(random, 0, 3) == 0) {
      g_string_append_printf(text, "%d,%d,%d\n", i, i, i);
      good++;
      continue;
    }
    int size = g_rand_int_range(random, 0, 60);
    g_string_append_c(text, (char)1);
    for (int k = 0; k < size; k++) {
      char c = (char)g_rand_int_range(random, 0, 256);
      g_string_append_c(text, c == '\n' ? 'x' : c);
    }
    g_string_append(text, ",\n");
  }
  struct heard h = hear(text->str, text->len, 1000);
  assert_true(h.rows >= good);
  forget(&h);
  g_string_free(text, TRUE);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_cases),
      cmocka_unit_test(test_a_line_without_end),
      cmocka_unit_test(test_rows_without_header),
      cmocka_unit_test(test_numbers_are_strtod),
      cmocka_unit_test(test_rubbish),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
