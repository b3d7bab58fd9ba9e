/* Every doubt, those that need a book included (desk/): its name, its identifier, the command that amends what it doubts, and its words. In the command {pull} is the
 * pull's number, {about} the fact's key, {over} what leaves out the recorded channel that it is
 * about ("recorded barometer"; nothing where the fact was typed, as what is recorded goes before it), and any other place an argument of the message. For the files that doubt. */
#pragma once
#include "base/language.h"
#include "base/message.h"

#define EW_DOUBT_RECORDED "recorded "

#define EW_DOUBTS(X)                                                                               \
  X(other_unit, "pull.doubt-other-unit", "pull amend {pull} --units {about}={other}",              \
    EW_TEXT(                                                                                       \
        "{channel} reads {reading} under load, which is not between {low} and {high}; taken as "   \
        "{other} it is {then}: is its unit {other}?"))                                             \
  X(recovered, "pull.doubt-recovered", "pull amend {pull} --set NAME=VALUE",                       \
    EW_TEXT("the recorder was cut off before this pull was stored: it has the set-up of the pull " \
            "before, and may be cut short: was anything changed for it?"))                         \
  X(reading, "pull.doubt-reading", "pull amend {pull} --units {about}=UNIT",                       \
    EW_TEXT("{channel} reads {reading} under load, which is not between {low} and {high}: check "  \
            "its unit, its column and its sensor"))                                                \
  X(ratio_as_lambda, "pull.doubt-ratio-as-lambda", "pull amend {pull} --units {about}=AFR",        \
    EW_TEXT("lambda reads {reading} under load: is it an air-fuel ratio?"))                        \
  X(pressure_span, "pull.doubt-pressure-span",                                                     \
    "pull amend {pull} {over}--set \"pressure=... hPa\"",                                          \
    EW_TEXT("the barometer reads {pressure}; {expected} is usual at the cell's elevation: is it "  \
            "station pressure, not reduced to sea level?"))                                        \
  X(pressure_high_up, "pull.doubt-pressure-high-up",                                               \
    "pull amend {pull} {over}--set \"pressure=... hPa\"",                                          \
    EW_TEXT("{pressure} of station pressure means an elevation of about {height}: is the cell "    \
            "there, or are these millimetres of mercury? Its elevation belongs in the cell's "     \
            "file"))                                                                               \
  X(pressure_jump, "pull.doubt-pressure-jump",                                                     \
    "pull amend {pull} {over}--set \"pressure=... hPa\"",                                          \
    EW_TEXT("the barometer reads {pressure}, {change} within {age}: the weather does not change "  \
            "so fast; is it station pressure, not reduced to sea level?"))                         \
  X(pressure_moves, "pull.doubt-pressure-moves",                                                   \
    "pull amend {pull} {over}--set \"pressure=... hPa\"",                                          \
    EW_TEXT("the barometer moves by {change} within the pull: is the column manifold pressure?"))  \
  X(pressure_manifold, "pull.doubt-pressure-manifold",                                             \
    "pull amend {pull} --set \"pressure=... hPa\"",                                                \
    EW_TEXT("the manifold reads {manifold} at full throttle and the air {pressure}: is the "       \
            "barometer right?"))                                                                   \
  X(air_temperature, "pull.doubt-air-temperature",                                                 \
    "pull amend {pull} --set \"temperature=... degC\"",                                            \
    EW_TEXT("inlet air at {temperature} is not between {low} and {high}: check its unit and "      \
            "where it was read"))                                                                  \
  X(humidity_low, "pull.doubt-humidity-low", "pull amend {pull} {over}--set \"humidity=... %\"",   \
    EW_TEXT("relative humidity of {humidity} is drier than any shop: is a share meant as per "     \
            "cent?"))                                                                              \
  X(vapour_high, "pull.doubt-vapour-high", "pull amend {pull} {over}--set \"dew_point=... degC\"", \
    EW_TEXT("vapour pressure {vapour} is above the {most} that saturated air holds at "            \
            "{temperature}: check dew point, wet bulb and their units"))                           \
  X(typed_two, "pull.doubt-typed-two", "pull amend {pull} --units \"{about}=not fitted\"",         \
    EW_TEXT("{channel} was typed as {typed} and recorded as {recorded}: which is right? What is "  \
            "recorded counts"))                                                                    \
  X(station_typed, "pull.doubt-station-typed", "pull amend {pull} --weather station",              \
    EW_TEXT("{channel} was typed as {counts}, the cell's weather station read {station}: which "   \
            "is right? What was typed counts"))                                                    \
  X(station_recorded, "pull.doubt-station-recorded", "pull amend {pull} {over}--weather station",  \
    EW_TEXT("{channel} was recorded as {counts}, the cell's weather station read {station}: "      \
            "which is right? What was recorded with the pull counts"))                             \
  X(humidity_two, "pull.doubt-humidity-two", "pull amend {pull} {over}--set \"humidity=... %\"",   \
    EW_TEXT("humidity says a vapour pressure of {one}, dew point or wet bulb {other}: which is "   \
            "right?"))                                                                             \
  X(factor, "pull.doubt-factor", "pull amend {pull} {over}--set \"pressure=... hPa\"",             \
    EW_TEXT("the correction factor is {factor}: check pressure, temperature and humidity"))        \
  X(power, "pull.doubt-power", "pull amend {pull} --map MAP.yaml",                                 \
    EW_TEXT("recorded power is {ratio} times torque times speed: check their units, the speed's "  \
            "scale and whether columns are swapped"))                                              \
  X(power_units, "pull.doubt-power-units", "pull amend {pull} --units {about}={other}",            \
    EW_TEXT("recorded power is {ratio} times torque times speed, which is so when {channel} is "   \
            "in {other}: is it?"))                                                                 \
  X(fuel_flow, "pull.doubt-fuel-flow", "pull amend {pull} --units fuel_flow=UNIT",                 \
    EW_TEXT("by fuel flow the engine turns {share} of the fuel's heat into work, which is not "    \
            "between {low} and {high}: check the unit of fuel flow, the fuel and torque"))         \
  X(air_flow, "pull.doubt-air-flow", "pull amend {pull} --units air_flow=UNIT",                    \
    EW_TEXT("by air flow the volumetric efficiency is {share}, which is not between {low} and "    \
            "{high}: check the unit of air flow and the displacement"))                            \
  X(mixture, "pull.doubt-mixture", "pull amend {pull} --set \"fuel=NAME\"",                        \
    EW_TEXT("air flow is {ratio} times what fuel flow and lambda say: check the fuel and the "     \
            "units of all three"))                                                                 \
  X(lambda_ratio, "pull.doubt-lambda-ratio", "pull amend {pull} --set \"fuel=NAME\"",              \
    EW_TEXT("the recorded air-fuel ratio over lambda is {ratio}; {fuel} has {stoichiometric}: "    \
            "which fuel is the scale for?"))                                                       \
  X(second_speed, "pull.doubt-second-speed", "pull amend {pull} --units \"speed=FACTOR rpm\"",     \
    EW_TEXT("the second speed is {ratio} times the first: check pulses a turn"))                   \
  X(spark, "pull.doubt-spark", "pull amend {pull} --set \"spark=... deg\"",                        \
    EW_TEXT("recorded spark is {recorded}, the set-up says {told}: which is right?"))              \
  X(bmep_high, "pull.doubt-bmep-high", "pull amend {pull} --engine NAME",                          \
    EW_TEXT("BMEP of {bmep} at {speed} is above {most}: check the unit of torque, bore and "       \
            "stroke, which engine is in the cell, and whether it is charged"))                     \
  X(bmep_low, "pull.doubt-bmep-low", "pull amend {pull} --engine NAME",                            \
    EW_TEXT("BMEP is never above {bmep}, less than {least}: check the unit of torque, bore and "   \
            "stroke and which engine is in the cell"))                                             \
  X(piston_speed, "pull.doubt-piston-speed", "pull amend {pull} --units \"speed=FACTOR rpm\"",     \
    EW_TEXT("{speed} means a mean piston speed of {piston}: check the speed's scale (pulses a "    \
            "turn) and which engine is in the cell"))                                              \
  X(speed_limit, "pull.doubt-speed-limit", "pull amend {pull} --units \"speed=FACTOR rpm\"",       \
    EW_TEXT("the pull reaches {speed}; the engine's limit is {limit}: check the speed's scale "    \
            "(pulses a turn) and which engine is in the cell"))                                    \
  X(expected, "pull.doubt-expected", "pull amend {pull} --engine NAME",                            \
    EW_TEXT("{channel} is {ratio} times what is expected of this engine: check units, scale and "  \
            "which engine is in the cell"))                                                        \
  X(absorber, "pull.doubt-absorber", "pull amend {pull} --units {about}=UNIT",                     \
    EW_TEXT("{channel} of {reading} is far above the absorber's plate, {plate}: check the unit "   \
            "and the cell's record"))                                                              \
  X(inertia_share, "pull.doubt-inertia-share", "cell amend --set \"rotor_inertia=... kg·m2\"",     \
    EW_TEXT("{share} of the torque is what spins rotor and coupling: check the cell's inertias ("  \
            "'cell right' says once that they are right)"))                                        \
  X(inertia_large, "pull.doubt-inertia-large", "cell amend --set \"rotor_inertia=... kg·m2\"",     \
    EW_TEXT("an inertia of {inertia} is very large for an absorber of {plate}: check the cell's "  \
            "record ('cell right' says once that it is right)"))                                   \
  X(cell_changed, "pull.doubt-cell-changed", "cell amend --set \"NAME=...\"",                      \
    EW_TEXT("{what} of the cell was {before} at the last pull and is {after}: was the dyno "       \
            "changed?"))                                                                           \
  X(torque_sign, "pull.doubt-torque-sign", "pull amend {pull} --units \"torque=-1 N·m\"",          \
    EW_TEXT("torque is negative where the throttle is open: check the sign of the load cell"))     \
  X(torque_zero, "pull.doubt-torque-zero", "pull discard {pull}",                                  \
    EW_TEXT("torque reads {torque} while the engine stands still: the load cell's zero is off"))   \
  X(torque_before, "pull.doubt-torque-before", "pull amend {pull} --engine NAME",                  \
    EW_TEXT("torque is {ratio} times that of the last pull at the same speeds: check the load "    \
            "cell, its unit and which engine is in the cell"))                                     \
  X(torque_unit, "pull.doubt-torque-unit", "pull amend {pull} --units torque={other}",             \
    EW_TEXT("torque is {ratio} times that of the last pull at the same speeds, as {other} read "   \
            "as {unit} would be: is its unit {other}?"))                                           \
  X(speed_before, "pull.doubt-speed-before", "pull amend {pull} --units \"speed=FACTOR rpm\"",     \
    EW_TEXT("speeds are {ratio} times those of the last pull: check the speed's scale (pulses a "  \
            "turn)"))                                                                              \
  X(spark_step, "pull.doubt-spark-step", "pull amend {pull} --set \"spark=... deg\"",              \
    EW_TEXT("spark was {before} at the last pull and is {after}: is it that far apart?"))          \
  X(cut_off, "pull.doubt-cut-off", "pull discard {pull}",                                          \
    EW_TEXT("the recording ends under full load at {speed}, the last pull went to {before}: is "   \
            "the file whole?"))                                                                    \
  X(twice, "pull.doubt-twice", "pull discard {pull}",                                              \
    EW_TEXT("torque is that of pull {other} at every speed, nearer than two pulls ever are "       \
            "({share}): is it the same recording a second time?"))                                 \
  X(calibration_back, "pull.doubt-calibration-back", "pull amend {pull} --calibration now",        \
    EW_TEXT("the calibration of {channel} of {day}, which this pull was computed with, was taken " \
            "back: {why}"))                                                                        \
  X(own_export, "pull.doubt-own-export", "pull discard {pull}",                                    \
    EW_TEXT("this file is a curve that 'pull export' wrote, not what a recorder measured: the "    \
            "same pull is not evidence twice"))                                                    \
  X(time, "pull.doubt-time", "pull amend {pull} --at \"YYYY-MM-DD HH:MM\"",                        \
    EW_TEXT("the time said is {said}, the file itself says {file}: which day is right?"))          \
  X(units, "pull.doubt-units", "pull amend {pull} --map MAP.yaml",                                 \
    EW_TEXT("the file names no units; as in this book were taken: {units}. Is that so?"))          \
  X(us_units, "pull.doubt-us-units", "pull amend {pull} --units all=us",                           \
    EW_TEXT("the file names no units, and its figures look like US units: does this recorder "     \
            "write {units}?"))

#define X(name, id, mend, text) extern const struct ew_message_kind ew_doubt_##name;
EW_DOUBTS(X)
#undef X
