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

static void event(gpointer user, enum ew_source_event which, const ew_message *what) {
  struct heard *h = user;
  (void)what;
  g_string_append_printf(h->events, "%s,", ew_source_event_names[which]);
}

static struct heard hear(const char *text, gsize size, gsize piece) {
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  struct ew_source_sink sink = {head, frame, event, &h};
  g_autoptr(ew_line_parser) parser = ew_line_parser_new();
  double now = 100;
  for (gsize at = 0; at < size; at += piece, now += 2)
    ew_line_parser_feed(parser, text + at, MIN(piece, size - at), now, &sink);
  ew_line_parser_end(parser, now, &sink);
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
    {"a greeting of two words", "Logger ready\nTime [s],RPM [rpm]\n1,2\n", "RPM|rpm\n", "", 1, 1,
     2},
    {"a greeting as wide as the header", "Logger ready\ntime rpm\n1 2\n", "rpm|\n", "", 1, 1, 2},
    {"a greeting with a number", "Logger ready\nLogger 7\ntime;rpm\ns;rpm\n1;2,5\n", "rpm|rpm\n",
     "", 1, 1, 2.5},
    {"a remark below the header", "t [s],rpm,tq\nlogging started\n1,2,3\n", "rpm|;tq|\n", "", 1, 1,
     2},
    {"words between rows", "t [s],rpm,tq\n1,2,3\nTorque,high\n2,3,4\n3,4,5\n", "rpm|;tq|\n",
     "garbage,", 3, 3, 4},
    {"words as wide as the header", "t [s],rpm\n1,2\nTorque,high\n2,3\n3,4\n", "rpm|\n", "garbage,",
     3, 3, 4},
    {"another header of the same width", "t [s],rpm\n1,2\nt [s],torque [N.m]\n2,3\n",
     "rpm|\ntorque|N.m\n", "header changed,", 2, 2, 3},
    {"another delimiter", "t [s],rpm\n1,2\nt [s];rpm;tq\n2;3,5;4\n", "rpm|\nrpm|;tq|\n",
     "header changed,", 2, 2, 3.5},
    {"noise before the header", "\001\377\002Time [s],RPM [rpm]\n1,2\n", "RPM|rpm\n", "", 1, 1, 2},
    {"the mark of UTF-8", "\xef\xbb\xbfTime [s],RPM [rpm]\n1,2\n", "RPM|rpm\n", "", 1, 1, 2},
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

static void feed(struct ew_line_parser *p, const char *text, double now, struct heard *h) {
  struct ew_source_sink sink = {head, frame, event, h};
  ew_line_parser_feed(p, text, strlen(text), now, &sink);
}

/* What was filed: a greeting, the header and 500 rows on each of three connections. */
static void test_three_connections(void **state) {
  (void)state;
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  g_autoptr(ew_line_parser) p = ew_line_parser_new();
  for (int k = 0; k < 3; k++) {
    feed(p, "Logger ready\n", 10 * k, &h);
    feed(p, "Time [s],RPM [rpm],Torque [N.m],Oil pressure [bar]\n", 10 * k, &h);
    for (int i = 0; i < 500; i++) {
      char row[80];
      g_snprintf(row, sizeof row, "%.2f,%d,250,4.9\n", 0.01 * i, 3000 + i);
      feed(p, row, 10 * k + 0.01 * i, &h);
    }
    feed(p, "5.0,35", 10 * k + 5, &h); /* cut */
    ew_line_parser_break(p);
  }
  assert_int_equal(h.rows, 1500);
  assert_string_equal(h.heads->str, "RPM|rpm;Torque|N.m;Oil pressure|bar\n");
  assert_string_equal(h.events->str, "");
  forget(&h);
}

/* A line of a word or two is not believed at the first row that would fit it, but at the third in turn. */
static void test_words_and_short_rows(void **state) {
  (void)state;
  const struct {
    const char *text, *heads;
    guint rows;
  } some[] = {{"t [s],rpm,tq\n1,2,3\nTorque,high\n2,3\n3,4,5\n", "rpm|;tq|\n", 2},
              {"t [s],rpm\n1,2\na,b,c\n2,3,4\n3,4,5\n4,5,6\n5,6,7\n", "rpm|\na|;b|;c|\n", 3}};
  for (gsize i = 0; i < G_N_ELEMENTS(some); i++) {
    struct heard h = hear(some[i].text, strlen(some[i].text), 7);
    assert_string_equal(h.heads->str, some[i].heads);
    assert_int_equal(h.rows, some[i].rows);
    forget(&h);
  }
}

/* Another logger at the same place: its header counts from its first row, whatever it is called. */
static void test_clean_after_a_break(void **state) {
  (void)state;
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  g_autoptr(ew_line_parser) p = ew_line_parser_new();
  feed(p, "t [s],rpm\n1,2\n", 0, &h);
  ew_line_parser_break(p);
  feed(p, "3,4\n", 1, &h); /* one that gives its header once only */
  assert_int_equal(h.rows, 2);
  ew_line_parser_break(p);
  feed(p, "foo;bar;baz\n1;2,5;3\n", 2, &h);
  assert_int_equal(h.rows, 3);
  assert_near(h.values[1], 2.5, 0);
  assert_string_equal(h.heads->str, "rpm|\nfoo|;bar|;baz|\n");
  forget(&h);
}

/* Sixteen thousand headers in half a minute, each with a row that fits it. */
static void test_rubbish_headers(void **state) {
  (void)state;
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  g_autoptr(ew_line_parser) p = ew_line_parser_new();
  feed(p, "Time [s],RPM [rpm],Torque [N.m],Oil pressure [bar]\n0,3000,250,4.9\n", 0, &h);
  for (int i = 0; i < 16000; i++) {
    char text[80];
    g_snprintf(text, sizeof text, "RPM%d [rpm],Torque [N.m]%s\n%d,2%s\n", i, i % 2 ? ",Lambda" : "",
               i, i % 2 ? ",3" : "");
    feed(p, text, 30.0 * i / 16000, &h);
  }
  g_auto(GStrv) heads = g_strsplit(h.heads->str, "\n", -1);
  print_message("16,000 headers made %u recordings\n", g_strv_length(heads) - 1);
  assert_true(g_strv_length(heads) - 1 <= 5);
  assert_non_null(strstr(h.events->str, "unreadable,"));
  forget(&h);
}

static void test_rows_that_cannot_be_read(void **state) {
  (void)state;
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  g_autoptr(ew_line_parser) p = ew_line_parser_new();
  feed(p, "t [s],rpm,tq\n", 0, &h);
  double now = 0;
  for (int i = 0; i < 1000; i++, now += 0.01) { /* one in ten is broken: told, and no alarm */
    char row[40];
    g_snprintf(row, sizeof row, i % 10 ? "%.2f,%d,2\n" : "%.2f,%d\n", now, i);
    feed(p, row, now, &h);
  }
  assert_null(strstr(h.events->str, "unreadable"));
  double from = now;
  while (!strstr(h.events->str, "unreadable,") && now < from + 10) {
    feed(p, "1,2\n", now, &h);
    now += 0.01;
  }
  assert_true(now - from < 3.1);
  for (int i = 0; i < 300; i++, now += 0.01) {
    char row[40];
    g_snprintf(row, sizeof row, "%.2f,%d,2\n", now, i);
    feed(p, row, now, &h);
  }
  assert_non_null(strstr(h.events->str, "readable again,"));
  forget(&h);
}

/* A row whose time cannot be read keeps to the sender's clock. */
static void test_a_row_without_time(void **state) {
  (void)state;
  struct heard h = {.heads = g_string_new(NULL), .events = g_string_new(NULL)};
  g_autoptr(ew_line_parser) p = ew_line_parser_new();
  feed(p, "t [s],rpm\n5,1000\n", 900, &h);
  feed(p, ",1001\n", 900.5, &h);
  assert_near(h.time_s, 5.5, 1e-9);
  assert_string_equal(h.events->str, "");
  forget(&h);
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
      cmocka_unit_test(test_three_connections),
      cmocka_unit_test(test_words_and_short_rows),
      cmocka_unit_test(test_clean_after_a_break),
      cmocka_unit_test(test_rubbish_headers),
      cmocka_unit_test(test_rows_that_cannot_be_read),
      cmocka_unit_test(test_a_row_without_time),
      cmocka_unit_test(test_a_line_without_end),
      cmocka_unit_test(test_rows_without_header),
      cmocka_unit_test(test_numbers_are_strtod),
      cmocka_unit_test(test_rubbish),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
