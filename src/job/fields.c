/* The field tables of a job: the only place where its fields are described. */
#include "base/language.h"
#include "job/job.h"
#include <string.h>

#define F(member, name_, type_, kind_, low_, high_, help_, ...)                                    \
  {                                                                                                \
    .name = name_, .type = EW_FIELD_##type_, .kind = EW_KIND_##kind_,                              \
    .offset = offsetof(struct RECORD, member), .minimum = low_, .maximum = high_, .help = help_,   \
    __VA_ARGS__                                                                                    \
  }
#define T(member, name, help, ...) F(member, name, TEXT, NUMBER, 0, 0, help, __VA_ARGS__)
#define N(member, name, help)      F(member, name, INTEGER, COUNT, 0, 2e9, help, .fallback = "0")
#define MARK                                                                                       \
  T(mark.at, "at", EW_TEXT("date, or date and time, ISO 8601")),                                   \
      T(mark.who, "who", EW_TEXT("who did it")), T(mark.note, "note", EW_TEXT("remark"))
#define FIGURES                                                                                    \
  F(power_w, "power", QUANTITY, POWER, 100, 1e7, EW_TEXT("power")),                                \
      F(power_speed_rpm, "power_speed", QUANTITY, ROTATIONAL_SPEED, 300, 25000,                    \
        EW_TEXT("speed of that power")),                                                           \
      F(torque_n_m, "torque", QUANTITY, TORQUE, 1, 1e5, EW_TEXT("torque")),                        \
      F(limit_rpm, "limit", QUANTITY, ROTATIONAL_SPEED, 300, 25000, EW_TEXT("highest speed"))

const char *const ew_job_how_names[] = {EW_TEXT("shipped"), EW_TEXT("cancelled"), NULL};
static const char *const state_names[] = {EW_TEXT("open"), EW_TEXT("done"), NULL};

#define RECORD ew_job_prices
static const struct ew_field prices_fields[] = {
    N(version, "version", EW_TEXT("which version of the price table")),
    T(currency, "currency", EW_TEXT("currency of its prices")), MARK};
#undef RECORD
#define RECORD ew_job_wish
static const struct ew_field wish_fields[] = {
    T(customer, "customer", EW_TEXT("who wants it")),
    T(wish, "wish", EW_TEXT("what is wanted, in the customer's words")),
    T(use, "use", EW_TEXT("what it is for: hill climb, tow, boat")),
    T(fuel, "fuel", EW_TEXT("fuel")),
    T(budget, "budget", EW_TEXT("what it may cost, a number in the shop's currency")),
    T(by, "by", EW_TEXT("the day it is wanted by")),
    FIGURES,
    F(idle_rpm, "idle", QUANTITY, ROTATIONAL_SPEED, 200, 5000, EW_TEXT("idle speed")),
    MARK};
#undef RECORD
#define RECORD ew_job_quote
static const struct ew_field quote_fields[] = {
    N(quote, "quote", EW_TEXT("its number in this job")),
    N(prices, "prices", EW_TEXT("version of the price table that it was made with")),
    T(currency, "currency", EW_TEXT("currency of its prices")),
    T(until, "until", EW_TEXT("the last day on which it is good")), MARK};
#undef RECORD
#define RECORD ew_job_sent
static const struct ew_field sent_fields[] = {N(quote, "quote", EW_TEXT("which quote")),
                                              T(to, "to", EW_TEXT("to whom")), MARK};
#undef RECORD
#define RECORD ew_job_agreed
static const struct ew_field agreed_fields[] = {N(quote, "quote", EW_TEXT("which quote")),
                                                T(by, "by", EW_TEXT("who signed")), MARK};
#undef RECORD
#define RECORD ew_job_change
static const struct ew_field change_fields[] = {T(what, "what", EW_TEXT("what is changed")),
                                                T(by, "by", EW_TEXT("who signed")),
                                                T(fuel, "fuel", EW_TEXT("fuel")), FIGURES, MARK};
#undef RECORD
#define RECORD ew_job_engine
static const struct ew_field engine_fields[] = {
    T(engine, "engine", EW_TEXT("which engine")),
    N(engine_id, "engine_id", EW_TEXT("its number in the book")),
    N(build_id, "build_id", EW_TEXT("the number of its build in the book")), MARK};
#undef RECORD
#define RECORD ew_job_order
static const struct ew_field order_fields[] = {
    N(order, "order", EW_TEXT("its number in this job")),
    T(supplier, "supplier", EW_TEXT("from whom")),
    T(due, "due", EW_TEXT("the day it should have come by")), MARK};
#undef RECORD
#define RECORD ew_job_came
static const struct ew_field came_fields[] = {
    N(order, "order", EW_TEXT("of which order")),
    T(code, "code", EW_TEXT("the shop's code")),
    T(batch, "batch", EW_TEXT("batch, cast or heat number")),
    T(serial, "serial", EW_TEXT("serial number")),
    T(position, "position", EW_TEXT("where it is fitted")),
    MARK};
#undef RECORD
#define RECORD ew_job_hours
static const struct ew_field hours_fields[] = {
    T(code, "code", EW_TEXT("the shop's code of the work")),
    T(what, "what", EW_TEXT("what was done")),
    F(spent_s, "spent", QUANTITY, TIME, 60, 86400, EW_TEXT("hours worked on that day")), MARK};
#undef RECORD
#define RECORD ew_job_reminder
static const struct ew_field reminder_fields[] = {
    T(what, "what", EW_TEXT("what is to be done")),
    F(running_s, "running", QUANTITY, TIME, 60, 4e7,
      EW_TEXT("due after this much running since it left")),
    T(by, "by", EW_TEXT("due by this day")),
    F(state, "state", CHOICE, NUMBER, 0, 0, EW_TEXT("open or done"), .choices = state_names,
      .fallback = "open"),
    MARK};
#undef RECORD
#define RECORD ew_job_end
static const struct ew_field end_fields[] = {F(how, "how", CHOICE, NUMBER, 0, 0,
                                               EW_TEXT("how it ended"), .choices = ew_job_how_names,
                                               .fallback = "shipped"),
                                             MARK};
#undef RECORD

#define TABLE(kind, word, type, fields)                                                            \
  [EW_JOB_##kind] = {word, sizeof(struct type), fields, G_N_ELEMENTS(fields)}
static const struct ew_fields tables[EW_JOB_KINDS_COUNT] = {
    TABLE(PRICES, EW_TEXT("price table"), ew_job_prices, prices_fields),
    TABLE(WISH, EW_TEXT("wish"), ew_job_wish, wish_fields),
    TABLE(QUOTE, EW_TEXT("quote"), ew_job_quote, quote_fields),
    TABLE(SENT, EW_TEXT("sending"), ew_job_sent, sent_fields),
    TABLE(AGREED, EW_TEXT("agreement"), ew_job_agreed, agreed_fields),
    TABLE(CHANGE, EW_TEXT("change"), ew_job_change, change_fields),
    TABLE(ENGINE, EW_TEXT("engine"), ew_job_engine, engine_fields),
    TABLE(ORDER, EW_TEXT("order"), ew_job_order, order_fields),
    TABLE(CAME, EW_TEXT("delivery"), ew_job_came, came_fields),
    TABLE(HOURS, EW_TEXT("hours"), ew_job_hours, hours_fields),
    TABLE(REMINDER, EW_TEXT("reminder"), ew_job_reminder, reminder_fields),
    TABLE(END, EW_TEXT("end"), ew_job_end, end_fields),
};

const struct ew_fields *ew_job_fields(enum ew_job_kind kind) {
  g_assert(kind < EW_JOB_KINDS_COUNT);
  return &tables[kind];
}

static const char *const keys[] = {
#define X(kind_, key, type) key,
    EW_JOB_KINDS(X)
#undef X
};

const char *ew_job_kind_key(enum ew_job_kind kind) {
  g_assert(kind < EW_JOB_KINDS_COUNT);
  return keys[kind];
}

gboolean ew_job_kind_find(const char *key, enum ew_job_kind *kind) {
  for (int k = 0; k < EW_JOB_KINDS_COUNT; k++)
    if (g_strcmp0(keys[k], key) == 0) {
      *kind = (enum ew_job_kind)k;
      return TRUE;
    }
  return FALSE;
}
