/* The channels this program knows: what is measured, its kind, how it is called in the trade, how
 * far such sensors usually lag (reported, never applied), and what it can plausibly read. Written once; recognition, cleaning, curves,
 * reports and the manual all read it from here. Lags and ranges: common practice, no source. */
#pragma once
#include "base/language.h"
#include "base/message.h"
#include "base/units.h"

/* id, key, label, kind, usual lag s, plausible low, plausible high (inside units), in the curve, names
 *
 * Names are alternatives apart by '|'; each is words that must all stand in the column's name. */
#define EW_CHANNELS(X)                                                                              \
  X(TIME, "time", EW_TEXT("time"), EW_KIND_TIME, 0, -1e15, 1e15, 0,                                 \
    "time|t|timestamp|clock|seconds|elapsed|zeit|temps|date time|datetime|date|hh mm ss|uhrzeit")   \
  X(SPEED, "speed", EW_TEXT("engine speed"), EW_KIND_ROTATIONAL_SPEED, 0, 0, 25000, 0,              \
    "rpm|engine speed|speed|crank speed|revs|drehzahl|regime|régime|engine rpm|eng spd|n engine|"  \
    "motordrehzahl|regime moteur|régime moteur|revoluciones|velocidad motor|giri|giri motore|"     \
    "toerental")                                                                                    \
  X(SPEED_2, "speed_2", EW_TEXT("second speed"), EW_KIND_ROTATIONAL_SPEED, 0, 0, 25000, 0,          \
    "dyno speed|absorber speed|rotor speed|brake speed|speed 2|rpm 2|dyno rpm")                     \
  X(TORQUE, "torque", EW_TEXT("torque"), EW_KIND_TORQUE, 0, -300, 20000, 0,                         \
    "torque|brake torque|tq|trq|drehmoment|couple|max torque|moment|par motor|coppia|koppel")       \
  X(POWER, "power", EW_TEXT("power"), EW_KIND_POWER, 0, -1e5, 5e6, 0,                               \
    "power|brake power|hp|leistung|puissance|potencia|potenza|vermogen")                            \
  X(THROTTLE, "throttle", EW_TEXT("throttle position"), EW_KIND_RATIO, 0, -0.1, 1.2, 0,             \
    "throttle|tps|throttle position|pedal|drosselklappe|throttle "                                  \
    "angle|papillon|mariposa|farfalla|"                                                             \
    "gasklep")                                                                                      \
  X(MANIFOLD_PRESSURE, "manifold_pressure", EW_TEXT("manifold pressure"),                           \
    EW_KIND_PRESSURE_ABSOLUTE, 0, 1e3, 5e5, 1,                                                      \
    "manifold pressure|map|manifold absolute pressure|manifold press|inlet manifold pressure")      \
  X(LAMBDA, "lambda", EW_TEXT("lambda"), EW_KIND_LAMBDA, 0.15, 0.5, 3, 1,                           \
    "lambda|lam|lambda 1|lambda bank 1|wideband")                                                   \
  X(LAMBDA_2, "lambda_2", EW_TEXT("lambda, second bank"), EW_KIND_LAMBDA, 0.15, 0.5, 3, 1,          \
    "lambda 2|lambda bank 2|lam 2")                                                                 \
  X(AIR_FUEL_RATIO, "air_fuel_ratio", EW_TEXT("air-fuel ratio"), EW_KIND_AIR_FUEL_RATIO, 0.15, 2,   \
    60, 0, "afr|air fuel ratio|air fuel|a f|afr 1")                                                 \
  X(FUEL_FLOW, "fuel_flow", EW_TEXT("fuel flow"), EW_KIND_MASS_FLOW, 0, 0, 5, 1,                    \
    "fuel flow|fuel rate|fuel|fuel mass flow|kraftstoff|fuel consumption")                          \
  X(AIR_FLOW, "air_flow", EW_TEXT("air flow"), EW_KIND_MASS_FLOW, 0, 0, 20, 1,                      \
    "air flow|airflow|maf|air mass flow|mass air flow|intake air flow")                             \
  X(OIL_PRESSURE, "oil_pressure", EW_TEXT("oil pressure"), EW_KIND_PRESSURE_GAUGE, 0, -5e4, 2e6,    \
    1,                                                                                              \
    "oil pressure|oil press|oilp|oil p|p oil|oeldruck|Öldruck|öldruck|gallery pressure|oil pres|" \
    "oil prs|pression huile|presion aceite|presión aceite|pressione olio|oliedruk")                 \
  X(OIL_TEMPERATURE, "oil_temperature", EW_TEXT("oil temperature"), EW_KIND_TEMPERATURE, 0, 230,    \
    480, 1,                                                                                         \
    "oil temperature|oil temp|oilt|oil t|t oil|sump "                                               \
    "temperature|oeltemperatur|Öltemperatur|öltemperatur|öltemp|Öltemp|temperature huile|"      \
    "température huile|temperatura aceite|temperatura olio|olietemperatuur")                        \
  X(COOLANT_TEMPERATURE, "coolant_temperature", EW_TEXT("coolant temperature"),                     \
    EW_KIND_TEMPERATURE, 0, 230, 430, 1,                                                            \
    "coolant temperature|coolant temp|water temperature|water temp|clt|ect|coolant|t "              \
    "water|wassertemperatur|water out|water out temp|h 2 o|h 2 o temp|kühlmitteltemperatur|"       \
    "kuehlmitteltemperatur|wassertemp|temperature eau|température eau|temperatura agua|"           \
    "temperatura acqua|watertemperatuur")                                                           \
  X(HEAD_TEMPERATURE, "head_temperature", EW_TEXT("head temperature"), EW_KIND_TEMPERATURE, 0.5,    \
    230, 620, 1, "head temperature|head temp|cylinder head temperature|cht")                        \
  X(COOLANT_PRESSURE, "coolant_pressure", EW_TEXT("coolant pressure"), EW_KIND_PRESSURE_GAUGE, 0,   \
    -5e4, 6e5, 1, "coolant pressure|water pressure|coolant press|water press")                      \
  X(FUEL_PRESSURE, "fuel_pressure", EW_TEXT("fuel pressure"), EW_KIND_PRESSURE_GAUGE, 0, -5e4,      \
    3e7, 1,                                                                                         \
    "fuel pressure|fuel press|fuelp|rail pressure|fuel p|fuel prs|kraftstoffdruck|pression "        \
    "carburant|presion combustible|presión combustible|pressione carburante|brandstofdruk")         \
  X(FUEL_TEMPERATURE, "fuel_temperature", EW_TEXT("fuel temperature"), EW_KIND_TEMPERATURE, 0,      \
    230, 380, 1, "fuel temperature|fuel temp")                                                      \
  X(INLET_AIR_TEMPERATURE, "inlet_air_temperature", EW_TEXT("inlet air temperature"),               \
    EW_KIND_TEMPERATURE, 0.5, 230, 380, 1,                                                          \
    "inlet air temperature|inlet air|intake air temperature|intake air temp|iat|air "               \
    "temperature|air "                                                                              \
    "temp|inlet temperature|inlet temp|inlet air temp|carb air temp|carb "                          \
    "air|ansauglufttemperatur|"                                                                     \
    "lufttemp|lufttemperatur|ansaugluft|temperature air|température air|temperatura aire|"         \
    "temperatura aria|luchttemperatuur")                                                            \
  X(BAROMETER, "barometer", EW_TEXT("barometer"), EW_KIND_PRESSURE_ABSOLUTE, 0, 5e4, 1.1e5, 0,      \
    "barometer|baro|barometric pressure|ambient pressure|atmospheric pressure|station "             \
    "pressure|air "                                                                                 \
    "pressure|cell pressure|luftdruck|pression atmospherique|pression atmosphérique|presion "      \
    "atmosferica|presión atmosférica|pressione atmosferica|luchtdruk")                              \
  X(SEA_LEVEL_PRESSURE, "sea_level_pressure", EW_TEXT("pressure reduced to sea level"),             \
    EW_KIND_PRESSURE_ABSOLUTE, 0, 8e4, 1.1e5, 0,                                                    \
    "sea level pressure|qnh|slp|pressure sea level|msl")                                            \
  X(HUMIDITY, "humidity", EW_TEXT("relative humidity"), EW_KIND_RATIO, 0, 0, 1.05, 0,               \
    "humidity|relative humidity|rh|rel humidity|feuchte|luftfeuchte|luftfeuchtigkeit|humidite|"     \
    "humidité|humedad|umidita|umidità|vochtigheid")                                                 \
  X(DEW_POINT, "dew_point", EW_TEXT("dew point"), EW_KIND_TEMPERATURE, 0, 220, 320, 0,              \
    "dew point|dewpoint|dew pt|taupunkt")                                                           \
  X(WET_BULB, "wet_bulb", EW_TEXT("wet bulb"), EW_KIND_TEMPERATURE, 0, 220, 320, 0,                 \
    "wet bulb|wet bulb temp|wet bulb temperature|feuchtkugel")                                      \
  X(VAPOUR_PRESSURE, "vapour_pressure", EW_TEXT("vapour pressure"), EW_KIND_PRESSURE_ABSOLUTE, 0,   \
    0, 12e3, 0, "vapor pressure|vapour pressure|vapor press|vapour press|dampfdruck")               \
  X(EXHAUST_TEMPERATURE, "exhaust_temperature", EW_TEXT("exhaust temperature"),                     \
    EW_KIND_TEMPERATURE, 1.5, 230, 1500, 1,                                                         \
    "exhaust temperature|exhaust temp|egt|exhaust gas temperature|exh temp|exhaust t|"              \
    "abgastemperatur|abgastemp|temperature echappement|température échappement|temperatura "      \
    "escape|"                                                                                       \
    "temperatura scarico|uitlaattemperatuur")                                                       \
  X(EXHAUST_FLOW, "exhaust_flow", EW_TEXT("exhaust flow"), EW_KIND_MASS_FLOW, 0, 0, 20, 1,          \
    "exhaust flow|exhaust mass flow")                                                               \
  X(CRANKCASE_PRESSURE, "crankcase_pressure", EW_TEXT("crankcase pressure"),                        \
    EW_KIND_PRESSURE_GAUGE, 0, -9e4, 2e5, 1,                                                        \
    "crankcase pressure|crankcase press|pan vacuum|pan vac|pan pressure|crankcase vacuum|"          \
    "crankcase vac|blow by pressure|crankcase")                                                     \
  X(BLOW_BY, "blow_by", EW_TEXT("blow-by"), EW_KIND_VOLUME_FLOW, 0, 0, 0.1, 1,                      \
    "blow by|blowby|blow by flow")                                                                  \
  X(KNOCK, "knock", EW_TEXT("knock count"), EW_KIND_COUNT, 0, 0, 1e6, 0,                            \
    "knock|knock count|knock counts|detonation")                                                    \
  X(SPARK, "spark", EW_TEXT("spark advance"), EW_KIND_ANGLE, 0, -40, 90, 1,                         \
    "spark|spark advance|timing|ignition timing|ignition angle|advance|ignition "                   \
    "advance|zuendwinkel")                                                                          \
  X(BMEP, "bmep_given", EW_TEXT("BMEP as given"), EW_KIND_MEAN_EFFECTIVE_PRESSURE, 0, -2e5, 6e6,    \
    0, "bmep|max bmep")                                                                             \
  X(BSFC, "bsfc_given", EW_TEXT("BSFC as given"), EW_KIND_SPECIFIC_FUEL, 0, 0, 1e-5, 0, "bsfc")     \
  X(ABSORBER_WATER_TEMPERATURE, "absorber_water_temperature",                                       \
    EW_TEXT("absorber water temperature"), EW_KIND_TEMPERATURE, 0, 230, 400, 1,                     \
    "absorber water temperature|absorber water|dyno water temp|brake water temp")

enum ew_channel {
#define X(id, key, label, kind, lag, low, high, curve, names) EW_CHANNEL_##id,
  EW_CHANNELS(X)
#undef X
      EW_CHANNELS_COUNT
};

struct ew_channel_facts {
  const char *key, *label;
  enum ew_kind kind;
  double usual_lag_s, low, high;
  gboolean in_curve;
  const char *names;
};
extern const struct ew_channel_facts ew_channel_facts[EW_CHANNELS_COUNT];

extern const char *const ew_channel_keys[EW_CHANNELS_COUNT + 1]; /* NULL-terminated */
G_STATIC_ASSERT(EW_CHANNELS_COUNT <= 64); /* sets of channels are kept as bits */

/* Its label as a word within messages. */
const struct ew_message_kind *ew_channel_word(enum ew_channel channel);

/* By its key ("oil_pressure"); EW_CHANNELS_COUNT when there is none. */
enum ew_channel ew_channel_by_key(const char *key);

/* Why a heading that names a channel is not taken for its reading: a target is not what was measured,
 * a wheel's speed is not the engine's, and what is corrected already is not corrected again. NULL when
 * nothing speaks against it. */
const struct ew_message_kind *ew_channel_excluded(const char *name);

/* Does the heading say that more of it is less pressure ("Pan Vac")? */
gboolean ew_channel_is_vacuum(const char *name);

/* What a column heading says. `strength` tells how sure: 0 nothing, up to 100 for the plain name.
 * `index` is the cylinder or bank that the name ends with, else 0. */
enum ew_channel ew_channel_by_name(const char *name, int *strength, int *index);
