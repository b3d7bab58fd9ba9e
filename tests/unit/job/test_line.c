/* Price tables as a spreadsheet saves them, and as a tired person does: each refusal names its line. */
#include "unit.h"
#include "job/line.h"

#define HEAD "code,name,price\n"

static const struct {
  const char *says, *text, *refused; /* NULL: it is read */
  enum ew_job_lines_kind kind;
  guint lines;
} rows[] = {
    {"a plain table", HEAD "a,Alpha,1.50\nb,Beta,2\n", NULL, EW_JOB_LINES_PRICES, 2},
    {"semicolons and decimal commas", "code;name;price\na;Alpha;1,50\n", NULL, EW_JOB_LINES_PRICES,
     1},
    {"tabs", "code\tname\tprice\na\tAlpha\t1.5\n", NULL, EW_JOB_LINES_PRICES, 1},
    {"a byte order mark, returns, empty lines",
     "\xef\xbb\xbf"
     "code,name,price\r\n\r\na,Alpha,1.50\r\n\r\n",
     NULL, EW_JOB_LINES_PRICES, 1},
    {"no line end at the end", HEAD "a,Alpha,1", NULL, EW_JOB_LINES_PRICES, 1},
    {"a comma in quotes", HEAD "a,\"Alpha, six\",1\n", NULL, EW_JOB_LINES_PRICES, 1},
    {"columns in another order", "price,code,name\n1,a,Alpha\n", NULL, EW_JOB_LINES_PRICES, 1},
    {"an umlaut in Windows-1252",
     HEAD "a,\xd6"
          "l,1\n",
     NULL, EW_JOB_LINES_PRICES, 1},
    {"words for a number", HEAD "a,Alpha,1\nb,Beta,on request\n",
     "line 3: price 'on request' is not a number", EW_JOB_LINES_PRICES, 0},
    {"a price below zero", HEAD "a,Alpha,-1\n", "line 2: price '-1' is below zero",
     EW_JOB_LINES_PRICES, 0},
    {"two prices for one part", HEAD "a,Alpha,1\nb,Beta,1\nA,Alpha,2\n",
     "line 4: 'A' was in line 2", EW_JOB_LINES_PRICES, 0},
    {"a comma that can be two things", "code;name;price\na;Alpha;1,234\n", "two ways",
     EW_JOB_LINES_PRICES, 0},
    {"a decimal comma in a table of commas", HEAD "a,Alpha,1,50\n", "line 2: '50' is in no column",
     EW_JOB_LINES_PRICES, 0},
    {"no price", HEAD "a,Alpha,\n", "line 2: 'price' is missing", EW_JOB_LINES_PRICES, 0},
    {"no name", HEAD "a,,1\n", "line 2: 'name' is missing", EW_JOB_LINES_PRICES, 0},
    {"no code", HEAD ",Alpha,1\n", "line 2: 'code' is missing", EW_JOB_LINES_PRICES, 0},
    {"a head with a slip", "code,name,prise\na,Alpha,1\n", "did you mean 'price'",
     EW_JOB_LINES_PRICES, 0},
    {"a head without prices", "code,name\na,Alpha\n", "no column 'price'", EW_JOB_LINES_PRICES, 0},
    {"a column twice", "code,name,price,price\na,Alpha,1,2\n", "'price' twice", EW_JOB_LINES_PRICES,
     0},
    {"a quantity in a price table", "code,name,price,quantity\na,Alpha,1,2\n", "no place here",
     EW_JOB_LINES_PRICES, 0},
    {"a head alone", HEAD, "no line below", EW_JOB_LINES_PRICES, 0},
    {"nothing", "", "no line below", EW_JOB_LINES_PRICES, 0},
    {"a kind that is neither", "code,name,price,kind\na,Alpha,1,thing\n", "neither part nor labour",
     EW_JOB_LINES_PRICES, 0},
    {"two currencies", "code,name,price,currency\na,Alpha,1,EUR\nb,Beta,1,USD\n",
     "line 3: currency 'USD'", EW_JOB_LINES_PRICES, 0},
    {"half a day", "code,name,price,days\na,Alpha,1,2.5\n", "days '2.5'", EW_JOB_LINES_PRICES, 0},
    {"a price of ten million and one", HEAD "a,Alpha,10000001\n", "out of range",
     EW_JOB_LINES_PRICES, 0},
    {"a quote that is never closed", HEAD "a,\"Alpha,1\nb,Beta,2\n", "two lines",
     EW_JOB_LINES_PRICES, 0},
    {"what is wanted", "code,quantity\na,2\nb,-1.5\n", NULL, EW_JOB_LINES_WANTED, 2},
    {"nothing of it", "code,quantity\na,0\n", "quantity is 0", EW_JOB_LINES_WANTED, 0},
    {"twice", "code,quantity\na,1\na,2\n", "add the two up", EW_JOB_LINES_WANTED, 0},
    {"a price where none is asked for", "code,quantity,price\na,1,2\n", "no place here",
     EW_JOB_LINES_WANTED, 0},
};

static void tables(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *currency = NULL;
    g_autoptr(GArray) lines = ew_job_lines_read(rows[i].text, strlen(rows[i].text), "t.csv",
                                                rows[i].kind, &currency, &error);
    expect((lines != NULL) == (rows[i].refused == NULL), rows[i].says, "%s",
           error ? error->message : "read");
    expect(!lines || lines->len == rows[i].lines, rows[i].says, "%u lines", lines->len);
    expect(lines || strstr(error->message, rows[i].refused), rows[i].says, "%s", error->message);
    expect(lines || strstr(error->message, "t.csv"), rows[i].says, "%s", error->message);
  }
}

static void a_null_byte_is_no_table(void **state) {
  (void)state;
  g_autoptr(GError) error = NULL;
  assert_null(ew_job_lines_read("code\0name", 9, "t.csv", EW_JOB_LINES_PRICES, NULL, &error));
  assert_non_null(strstr(error->message, "not a table"));
}

/* What is kept has the same text each time, whatever stands in it. */
static void what_is_written_reads_back(void **state) {
  (void)state;
  static const char text[] =
      "code,name,kind,unit,price,tax,supplier,supplier_number,days,quantity\n"
      "a,\"Alpha, \"\"six\"\"\",part,,1.2345,19 %,=SUM(A1),-7,0,8.5000\n"
      "\"b;c\",@Beta,labour,h,78.0000,,,,,-2.0000\n";
  g_autoptr(GArray) lines =
      ew_job_lines_read(text, sizeof text - 1, "t", EW_JOB_LINES_WHOLE, NULL, NULL);
  assert_non_null(lines);
  g_autofree char *once = ew_job_lines_write(lines);
  g_autoptr(GArray) again =
      ew_job_lines_read(once, strlen(once), "t", EW_JOB_LINES_WHOLE, NULL, NULL);
  assert_non_null(again);
  g_autofree char *twice = ew_job_lines_write(again);
  assert_string_equal(once, twice);
  const struct ew_job_line *l = ew_job_line_of(again, "A");
  assert_string_equal(l->name, "Alpha, \"six\"");
  assert_string_equal(l->supplier, "=SUM(A1)");
  assert_true(l->days == 0 && l->price == 12345 && l->quantity == 85000);
  assert_true(ew_job_line_of(again, "b;c")->labour && ew_job_line_of(again, "b;c")->days == -1);
}

static void no_formula_leaves(void **state) {
  (void)state;
  static const struct {
    const char *cell, *written;
  } cells[] = {{"plain", "plain"},      {"=1+1", "\"'=1+1\""},
               {"@x", "\"'@x\""},       {"-12.5000", "-12.5000"},
               {"+49 1", "\"'+49 1\""}, {"a,b", "\"a,b\""},
               {"a\"b", "\"a\"\"b\""},  {"", ""}};
  for (gsize i = 0; i < G_N_ELEMENTS(cells); i++) {
    g_autoptr(GString) text = g_string_new(NULL);
    ew_csv_append(text, cells[i].cell, TRUE);
    assert_string_equal(text->str, cells[i].written);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(tables), cmocka_unit_test(a_null_byte_is_no_table),
      cmocka_unit_test(what_is_written_reads_back), cmocka_unit_test(no_formula_leaves)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
