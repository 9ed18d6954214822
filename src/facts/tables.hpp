// SPDX-License-Identifier: Apache-2.0
// The published values, typed for those who compute with them. Built from data/*.toml, which are inside the
// program; a job's own rule set is one more file in the same format (docs/formats/rule-set.md).
//
// Verified by: tests/unit/facts (every row has source, edition and basis; messages by line),
// tests/oracle/facts.
#pragma once

#include "base/asset.hpp"
#include "base/result.hpp"
#include "facts/fact.hpp"
#include "units/quantity.hpp"

#include <array>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::facts {

enum class FibreKind { multimode, single_mode };
enum class CordGrade { reference, standard };
char const* name_of(FibreKind kind);  ///< "multimode", "single-mode"
char const* name_of(CordGrade grade); ///< "reference", "standard"
std::optional<FibreKind> parse_fibre_kind(std::string_view text);
std::optional<CordGrade> parse_cord_grade(std::string_view text);

/// A cabled fibre category: OM1 … OM5, OS1, OS1a, OS2.
struct FibreCategory
{
    std::string id;
    FibreKind kind = FibreKind::multimode;
    double core_um = 0;              ///< 50, 62.5; mode-field diameter at 1310 nm for single-mode
    std::map<int, Fact> group_index; ///< by wavelength in nm
    std::vector<std::string> meets;  ///< lower categories whose requirement it also meets (substitution)
    std::string jacket;              ///< usual jacket colour, for drawings
    bool legacy = false;             ///< fibre of older editions: "62.5/160", "50/400"
};

/// What one document in one edition (or one contract) allows.
struct RuleSet
{
    struct Coefficient
    {
        std::string category; ///< "OM4"
        int wavelength_nm = 0;
        Fact fact; ///< dB/km
    };
    std::string id;    ///< "tia-568.3-e"
    std::string title; ///< for people
    Source source;
    std::vector<Coefficient> coefficients;
    std::map<std::pair<CordGrade, FibreKind>, Fact> end_connection; ///< A_end, dB
    std::map<std::pair<CordGrade, FibreKind>, Fact>
        reference_joint;   ///< A_ref, dB: one joint inside the reference
    Fact inner_connection; ///< A_conn, dB
    Fact splice;           ///< A_splice, dB
    struct Wavelength
    {
        Fact fact; ///< nm
        bool required = false;
    };
    std::map<FibreKind, std::vector<Wavelength>> wavelengths; ///< to be measured; the first is required
    /// True where the document prescribes counting connections only (N_end - N_ref, each at A_end).
    bool simple_count = false;

    /// The coefficient for a category and wavelength, or nullptr.
    Fact const* coefficient(std::string_view category, Nanometres wavelength) const;

    /// Every value of the set, in the order of the document.
    std::vector<Fact const*> facts() const;
};

/// One length / loss row of an application for a fibre category.
struct ApplicationLimit
{
    std::string category;     ///< "OM3", "OS2"
    Fact length;              ///< m
    std::optional<Fact> loss; ///< dB; none where no figure was found
};

/// Whether an application works if the lanes arrive at other receivers than those of their number.
enum class LaneOrder : std::uint8_t { as_numbered, any };

struct Application
{
    std::string id;                   ///< "E40SR4"
    std::string name;                 ///< "40GBASE-SR4"
    std::vector<std::string> aliases; ///< other published names: "100G-FR"
    std::string standard;             ///< "IEEE 802.3 clause 86"
    std::string line_rate;            ///< "4 x 10.3125 GBd NRZ"
    double rate_gbps = 0;
    int lanes = 0;
    LaneOrder lane_order = LaneOrder::as_numbered;
    int fibres = 0;
    std::string lane_map; ///< "P4", "P8", "P2", "P10", "P16", "P4B", "P8x2", "DUP" (data/ports.toml)
    std::vector<std::string> lane_maps;   ///< every accepted interface, `lane_map` first
    std::string family;                   ///< "mpo-12", "mpo-16", "mpo-24", "mpo-32", "duplex"
    std::string face;                     ///< "flat", "angled", "any"
    std::vector<int> wavelengths_nm;      ///< at which the loss reading is compared, first preferred
    std::string reflectance_rule;         ///< "MM20", "SM26", "FRn", "LRn", "DRt", "1.6T", "none-found"
    std::optional<Fact> minimum_loss;     ///< dB
    std::vector<ApplicationLimit> limits; ///< one per category that has a row
    std::vector<ApplicationLimit>
        weak_limits; ///< carried, off unless asked for: low confidence, engineered links
    Source source;
    Basis basis = Basis::memory;
    bool enabled = true; ///< false: low confidence or draft, off unless asked for
    std::string note;
};

/// Which position does what at a port: 't' transmits lane n, 'r' receives lane n, 'b' both directions.
struct LaneMap
{
    struct Place
    {
        int position = 0;
        char use = 't';
        int lane = 0; ///< from 0
    };
    std::string id;
    int rows = 1;
    int columns = 12;
    std::vector<Place> places;
    Fact fact;
};

/// Maximum value of each discrete reflectance by number of reflectances above the counting threshold.
struct ReflectanceRule
{
    std::string id;
    std::optional<Fact> each; ///< dB: every connection at or below
    double counted_above_db = -55;
    std::map<int, Fact> by_count; ///< count -> dB
    std::string unknown;          ///< non-empty: what stays open, in words
};

/// IEC attenuation grade of a random mating.
struct ConnectionGrade
{
    std::string id; ///< "B", "C", "D", "Bm", "Cm"
    FibreKind kind = FibreKind::single_mode;
    Fact mean; ///< dB
    Fact p97;  ///< dB
};

struct FibreColour
{
    int number = 0;
    std::string name; ///< TIA-598 name
    std::string iec_name;
    std::string short_name; ///< "BL"
    std::string rgb;        ///< "#0057b8": our rendering, not a published value
};

/// Usual colours of a cable jacket and of the plugs on it. For drawings: colour never decides what a thing
/// is.
struct JacketColour
{
    std::string category; ///< "OM4"
    std::string jacket;
    std::string jacket_rgb; ///< our rendering
    std::string plug;
    std::string plug_rgb;  ///< our rendering
    std::string condition; ///< "angled"
};

/// Criteria for one zone of an end face: how many scratches or defects of which size.
struct EndFaceZone
{
    struct Allowance
    {
        double above_um = 0; ///< sizes above this …
        double up_to_um = 0; ///< … up to and including this; 0: no upper bound
        int allowed = 0;     ///< -1: any number
    };
    std::string edition; ///< "2 (2015)"
    std::string type;    ///< "single-mode-pc", "single-mode-apc", "multimode-pc"
    std::string zone;    ///< "A" core, "B" cladding, "C" adhesive, "D" contact
    double inner_um = 0; ///< diameter
    double outer_um = 0;
    std::vector<Allowance> scratches;
    std::vector<Allowance> defects;
    bool arrays = false; ///< also judged on each fibre of a rectangular ferrule
    Fact fact;           ///< the criteria in words, with source
};

/// One contribution to the uncertainty of an attenuation.
struct UncertaintyContribution
{
    std::string id; ///< "meter-linearity"
    std::string name;
    std::string distribution;                    ///< "normal", "rectangular", "triangular", "u-shaped"
    std::string half_width_or_sd = "half-width"; ///< "half-width" or "standard-deviation"
    double degrees_of_freedom = 0;               ///< 0: infinite
    /// By "multimode" / "single-mode", optionally "@850": the most exact key wins.
    std::map<std::string, Fact> value;
    /// For `per` = "loss": the least half-width in dB; the larger of value * loss and this counts.
    std::map<std::string, Fact> least;
    std::vector<std::string> methods; ///< empty: all of "one-cord", "two-cord", "three-cord"
    std::string per = "once";         ///< "once", "end", "reference-joint", "loss" (fraction of the loss)
    bool common = false;              ///< shared by all readings under one reference (correlated)
};

/// All of it. Immutable once loaded; cheap to pass by reference.
class Tables
{
  public:
    std::vector<Fact> facts; ///< every value, flat, in file order: what `guidepin facts` lists
    std::vector<FibreCategory> categories;
    std::vector<RuleSet> rule_sets;
    std::vector<Application> applications;
    std::vector<LaneMap> lane_maps;
    std::vector<ReflectanceRule> reflectance_rules;
    std::vector<ConnectionGrade> grades;
    std::vector<FibreColour> fibre_colours;
    std::vector<JacketColour> jacket_colours;
    std::vector<UncertaintyContribution> uncertainty;
    std::vector<EndFaceZone> end_face_zones;
    std::string version; ///< first 16 hex digits of a hash of all files: goes into every record

    Result<FibreCategory const*> category(std::string_view id) const; ///< not_found names the nearest
    Result<RuleSet const*> rule_set(std::string_view id) const;
    Result<Application const*> application(std::string_view id_or_name) const;
    LaneMap const* lane_map(std::string_view id) const;
    ReflectanceRule const* reflectance_rule(std::string_view id) const;
    ConnectionGrade const* grade(std::string_view id) const;
    /// A fact by its id ("readiness.warm-up"), or nullptr.
    Fact const* fact(std::string_view id) const;
};

/// A TOML text with the name to use in messages.
struct NamedText
{
    std::string name;
    std::string text;
};

/// Reads fact files. All errors are reported at once, each with file and line.
Result<Tables> load_tables(std::span<NamedText const> files);

/// The tables inside the program. A failure here is a bug and ends the program with the message.
Tables const& built_in_tables();

/// A contract's own rule set (one TOML file), checked against `tables`; may say `based-on = "tia-568.3-e"`
/// and override.
Result<RuleSet> load_rule_set(NamedText const& file, Tables const& tables);

/// `tables` with one more rule set; replaces one of the same id.
Tables with_rule_set(Tables tables, RuleSet rules);

} // namespace guidepin::facts
