/* A GPIO line as an output: what is asked of the kernel, field by field, after linux/gpio.h (version 2 of its
 * interface), with a stand-in for the call, since a test machine has no such chip; and what is refused. */
#include "near.h"
#include "cell/alarm_spec.h"
#include "cell/output_gpio.h"
#include <errno.h>
#include <fcntl.h>
#include <linux/gpio.h>

static struct {
  int requests, sets, fails;
  guint32 offset;
  guint64 flags, first_value, bits, mask;
} asked;

static int stand_in(int file, unsigned long request, void *argument) {
  assert_true(file >= 0);
  if (asked.fails) {
    errno = asked.fails;
    return -1;
  }
  if (request == GPIO_V2_GET_LINE_IOCTL) {
    struct gpio_v2_line_request *r = argument;
    assert_int_equal(r->num_lines, 1);
    assert_string_equal(r->consumer, "enginewright");
    assert_int_equal(r->config.num_attrs, 1);
    assert_int_equal(r->config.attrs[0].mask, 1);
    assert_int_equal(r->config.attrs[0].attr.id, GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES);
    asked.requests++;
    asked.offset = r->offsets[0];
    asked.flags = r->config.flags;
    asked.first_value = r->config.attrs[0].attr.values;
    r->fd = open("/dev/null", O_RDWR);
    return 0;
  }
  assert_int_equal(request, GPIO_V2_LINE_SET_VALUES_IOCTL);
  struct gpio_v2_line_values *v = argument;
  asked.sets++;
  asked.bits = v->bits;
  asked.mask = v->mask;
  return 0;
}

static void names(void **state) {
  (void)state;
  static const char *const bad[] = {"",
                                    "17",
                                    "/dev/gpiochip0",
                                    "/dev/gpiochip0:",
                                    "/dev/gpiochip0:x",
                                    "/dev/gpiochip0:-1",
                                    "/dev/gpiochip0:4096",
                                    "/dev/sda:1"};
  char *chip = NULL;
  int line;
  for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
    g_autoptr(GError) error = NULL;
    assert_false(ew_gpio_name(bad[i], &chip, &line, &error));
    assert_non_null(strstr(error->message, "/dev/gpiochip0:17"));
  }
  assert_true(ew_gpio_name("/dev/gpiochip3:17", &chip, &line, NULL));
  assert_string_equal(chip, "/dev/gpiochip3");
  assert_int_equal(line, 17);
  g_free(chip);
}

/* A chip that is there to be opened; the name has to begin as the kernel's do, so a real one is needed. */
static void without_a_chip(void **state) {
  (void)state;
  struct ew_gpio_lines *lines = ew_gpio_lines_new(stand_in);
  g_autoptr(ew_message) why = ew_gpio_drive(lines, "/dev/gpiochip99:1", TRUE);
  assert_non_null(why);
  assert_string_equal(ew_message_argument(why, "line")->text, "/dev/gpiochip99:1");
  assert_int_equal(asked.requests, 0);
  ew_gpio_lines_free(lines);
}

static void what_is_asked(void **state) {
  (void)state;
  struct ew_gpio_lines *lines = ew_gpio_lines_new(stand_in);
  int line = 5;
  asked.fails = 0;
  assert_null(ew_gpio_drive_on(lines, "/dev/null", "chip:5", line, TRUE));
  assert_int_equal(asked.requests, 1);
  assert_int_equal(asked.offset, 5);
  assert_true(asked.flags == GPIO_V2_LINE_FLAG_OUTPUT);
  assert_true(asked.first_value == 1);
  assert_null(ew_gpio_drive_on(lines, "/dev/null", "chip:5", line, FALSE)); /* held: only set */
  assert_int_equal(asked.requests, 1);
  assert_int_equal(asked.sets, 1);
  assert_true(asked.bits == 0 && asked.mask == 1);
  ew_gpio_lines_free(lines);
}

static void what_fails_is_told(void **state) {
  (void)state;
  struct ew_gpio_lines *lines = ew_gpio_lines_new(stand_in), *real = ew_gpio_lines_new(NULL);
  asked.fails = EBUSY;
  g_autoptr(ew_message) busy = ew_gpio_drive_on(lines, "/dev/null", "chip:6", 6, TRUE);
  assert_string_equal(ew_message_id(busy), "cell.gpio-busy");
  g_autoptr(ew_message) none =
      ew_gpio_drive_on(real, "/dev/null", "null:6", 6, TRUE); /* the kernel's own word */
  assert_string_equal(ew_message_id(none), "cell.gpio-not-a-chip");
  ew_gpio_lines_free(lines);
  ew_gpio_lines_free(real);
}

static const struct ew_alarm_context plate = {7000, 300, 400, 6800, 4e5};

static void in_the_table(void **state) {
  (void)state;
  static const struct {
    const char *yaml, *want;
  } rows[] = {
      {"outputs: [{name: stop, kind: gpio, to: /dev/gpiochip0:17, on: yes}]", NULL},
      {"outputs: [{name: stop, kind: gpio, to: gpio17, on: yes}]", "/dev/gpiochip0:17"},
      {"outputs: [{name: stop, kind: gpio, on: yes}]", "to"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(ew_node) root = ew_node_parse("test", rows[i].yaml, strlen(rows[i].yaml), NULL);
    struct ew_alarm_table *table = ew_alarm_table_read(root, "test", &plate, &error);
    assert_true_says((table != NULL) == (rows[i].want == NULL), rows[i].yaml);
    assert_true_says(!rows[i].want || strstr(error->message, rows[i].want), rows[i].yaml);
    ew_alarm_table_free(table);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(names),         cmocka_unit_test(without_a_chip),
      cmocka_unit_test(what_is_asked), cmocka_unit_test(what_fails_is_told),
      cmocka_unit_test(in_the_table),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
