// SPDX-License-Identifier: Apache-2.0
// Light at the wrong position. The class of a map gives a parity, never a place. The place follows from which
// other links show the same: all links of one pair of test cords, all links of one panel, or this link alone.
#include "base/text.hpp"
#include "cause/inside.hpp"
#include "plant/signature.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

// Fewer mirrored links than this do not accuse a part that they share.
constexpr std::size_t least_under_cords = 3;
constexpr std::size_t least_at_panel = 2;
// From this number on, a shared part is as good as certain.
constexpr std::size_t many_under_cords = 6;
constexpr std::size_t many_at_panel = 4;

plant::PositionMap mirror(plant::Family const& family)
{
    plant::PositionMap map;
    int const n = family.positions();
    for (int p = 1; p <= n; ++p) map.connect(p, n + 1 - p);
    return map;
}

bool mirrored(std::vector<plant::Signature> const& signatures)
{
    return !signatures.empty() && signatures.front().kind == plant::SignatureKind::wrong_test_cord;
}

bool most_of(std::size_t hit, std::size_t seen, double least_share)
{
    return static_cast<double>(hit) >= least_share * static_cast<double>(seen);
}

struct LikelyCause
{
    Cause cause = Cause::unexplained;
    double probability = 0;
    std::vector<Alternative> alternatives;
};

/// One dark reading shows that no light came, not why: the causes are weighed by how often each occurs.
LikelyCause cause_of_darkness(Priors const& priors)
{
    double const broken = priors.rate_of(Cause::broken_fibre);
    double const dirty = priors.dark_dirty * priors.rate_of(Cause::dirty_end_face);
    double const other = priors.rate_of(Cause::unexplained);
    double const all = broken + dirty + other;
    return {Cause::broken_fibre,
            broken / all,
            {{Cause::dirty_end_face, dirty / all}, {Cause::unexplained, other / all}}};
}

LikelyCause likely_cause(plant::SignatureKind kind, Priors const& priors)
{
    if (kind == plant::SignatureKind::dark_fibres) return cause_of_darkness(priors);
    MapMeaning const& meaning = priors.map_meaning[static_cast<std::size_t>(kind)];
    return {meaning.cause, meaning.probability, {{meaning.other, meaning.other_probability}}};
}

class WiringFindings
{
  public:
    WiringFindings(Explainer::Site const& site, std::vector<Finding>& findings)
        : site_(site)
        , columns_(*site.columns)
        , priors_(*site.priors)
        , findings_(findings)
        , signatures_(columns_.links.size())
        , mirrored_(columns_.links.size(), false)
        , reads_(columns_.links.size())
    {
    }

    void report()
    {
        for (std::uint32_t link = 0; link < columns_.links.size(); ++link) {
            if (!judged(link) || columns_.links[link].a_to_b == site_.kind_of(link).a_to_b) continue;
            read(link, columns_.links[link].a_to_b);
            wrong_.push_back(link);
        }
        if (wrong_.empty()) return;
        report_test_cords();
        report_panels();
        report_exchanged_labels();
        for (std::uint32_t const link : wrong_) report_alone(link);
    }

  private:
    bool has_map(std::uint32_t link) const
    {
        return columns_.links[link].kind != none && columns_.links[link].map_known;
    }
    bool judged(std::uint32_t link) const { return has_map(link) && !site_.kind_of(link).a_to_b.empty(); }

    void read(std::uint32_t link, plant::PositionMap const& measured)
    {
        LinkKind const& kind = site_.kind_of(link);
        reads_[link] = measured;
        plant::Family family = kind.family;
        if (family.key == plant::Family::Key::duplex) family.key = plant::Family::Key::mpo12;
        signatures_[link] = plant::signature_of(family, kind.a_to_b, measured);
        mirrored_[link] = mirrored(signatures_[link]);
    }

    /// Completes the finding and adds it. Expects cause, links, probability, alternatives and evidence.
    void add(Finding finding, std::string const& where)
    {
        std::stable_sort(finding.links.begin(), finding.links.end(), [&](auto a, auto b) {
            return columns_.links[a].taken_ms < columns_.links[b].taken_ms;
        });
        finding.since_ms = columns_.links[finding.links.front()].taken_ms;
        site_.finish(finding, where);
        findings_.push_back(std::move(finding));
    }

    /// Of a part that many links share.
    Finding shared_part(Cause cause, std::vector<std::uint32_t> const& links, bool many,
                        SharedMirror const& prior, Cause alternative) const
    {
        Finding finding;
        finding.cause = cause;
        finding.links = links;
        finding.probability = many ? prior.many : prior.few;
        finding.alternatives = {{alternative, (1 - finding.probability) * prior.alternative}};
        return finding;
    }

    void report_test_cords()
    {
        for (std::uint32_t r = 0; r < site_.sessions.size(); ++r) {
            std::vector<std::uint32_t> hit;
            std::size_t seen = 0;
            for (std::uint32_t const link : site_.sessions[r].links) {
                if (!judged(link)) continue;
                ++seen;
                if (mirrored_[link]) hit.push_back(link);
            }
            if (hit.size() < least_under_cords ||
                !most_of(hit.size(), seen, priors_.mirrored_cords.least_share))
                continue;
            Finding finding = shared_part(Cause::wrong_test_cord, hit, hit.size() >= many_under_cords,
                                          priors_.mirrored_cords, Cause::wrong_adapter);
            finding.reference = r;
            finding.evidence = fmt::format(
                "{} of {} links under {} read mirrored, whatever their trunks and panels: the cords "
                "are what they share.",
                hit.size(), seen, columns_.references[r]);
            add(std::move(finding), columns_.references[r].text());
            take_cord_out(r);
        }
    }

    /// Reads the links under this reference again, without its mirrored test cord.
    void take_cord_out(std::uint32_t reference)
    {
        for (std::uint32_t const link : site_.sessions[reference].links) {
            if (!has_map(link)) continue;
            read(link, columns_.links[link].a_to_b.then(mirror(site_.kind_of(link).family)));
            if (signatures_[link].empty()) continue;
            if (std::find(wrong_.begin(), wrong_.end(), link) == wrong_.end()) wrong_.push_back(link);
        }
    }

    struct PanelLinks
    {
        std::vector<std::uint32_t> mirrored;
        std::size_t seen = 0;
    };
    using PanelEnd = std::pair<int, std::uint32_t>; // 0: end A, 1: end B; panel

    std::map<PanelEnd, PanelLinks> links_by_panel() const
    {
        std::map<PanelEnd, PanelLinks> panels;
        for (std::uint32_t link = 0; link < columns_.links.size(); ++link) {
            LinkRow const& row = columns_.links[link];
            if (!has_map(link)) continue;
            for (int end = 0; end < 2; ++end) {
                std::uint32_t const panel = end == 0 ? row.panel_a : row.panel_b;
                if (panel == none) continue;
                PanelLinks& of = panels[{end, panel}];
                ++of.seen;
                if (mirrored_[link]) of.mirrored.push_back(link);
            }
        }
        return panels;
    }

    void report_panels()
    {
        for (auto const& [panel, links] : links_by_panel()) {
            std::vector<std::uint32_t> hit; // not yet explained by a panel before
            for (std::uint32_t const link : links.mirrored) {
                if (mirrored_[link]) hit.push_back(link);
            }
            if (hit.size() < least_at_panel ||
                !most_of(hit.size(), links.seen, priors_.mirrored_panel.least_share))
                continue;
            Finding finding = shared_part(Cause::wrong_adapter, hit, hit.size() >= many_at_panel,
                                          priors_.mirrored_panel, Cause::wrong_trunk_type);
            finding.evidence = fmt::format(
                "{} of {} links of one panel at end {} read mirrored, links elsewhere under the same "
                "cords do not.",
                hit.size(), links.seen, panel.first == 0 ? "A" : "B");
            add(std::move(finding), site_.names_of(hit));
            for (std::uint32_t const link : hit) {
                mirrored_[link] = false;
                signatures_[link].clear();
            }
        }
    }

    /// Two links under one reference that each read as the other should.
    void report_exchanged_labels()
    {
        std::map<std::uint32_t, std::vector<std::uint32_t>> by_reference;
        for (std::uint32_t const link : wrong_) {
            if (!signatures_[link].empty()) by_reference[columns_.links[link].reference].push_back(link);
        }
        for (auto const& [reference, links] : by_reference) {
            for (std::size_t i = 0; i < links.size(); ++i) {
                for (std::size_t k = i + 1; k < links.size(); ++k) report_if_exchanged(links[i], links[k]);
            }
        }
    }

    void report_if_exchanged(std::uint32_t a, std::uint32_t b)
    {
        if (signatures_[a].empty() || signatures_[b].empty()) return;
        if (!(reads_[a] == site_.kind_of(b).a_to_b) || !(reads_[b] == site_.kind_of(a).a_to_b)) return;
        Finding finding;
        finding.cause = Cause::mislabelled_link;
        finding.links = {a, b};
        finding.probability = priors_.exchanged_labels;
        finding.alternatives = {{Cause::wrong_trunk_type, priors_.exchanged_trunks}};
        finding.evidence = fmt::format("{} reads as {} should, and {} as {} should.", site_.id_of_link(a),
                                       site_.id_of_link(b), site_.id_of_link(b), site_.id_of_link(a));
        add(std::move(finding), site_.names_of(std::vector{a, b}));
        signatures_[a].clear();
        signatures_[b].clear();
    }

    void report_alone(std::uint32_t link)
    {
        std::string const name = site_.id_of_link(link);
        if (mirrored(signatures_[link])) {
            Finding finding;
            finding.cause = Cause::wrong_trunk_type;
            finding.links = {link};
            finding.probability = priors_.mirrored_trunk;
            finding.alternatives = {{Cause::wrong_adapter, priors_.mirrored_adapter},
                                    {Cause::wrong_test_cord, priors_.mirrored_cord}};
            finding.evidence =
                fmt::format("{} reads mirrored, its neighbours under the same cords and panels do not: one "
                            "part of this link alone is of the other kind.",
                            name);
            add(std::move(finding), name);
            return;
        }
        for (plant::Signature const& signature : signatures_[link]) {
            LikelyCause likely = likely_cause(signature.kind, priors_);
            bool const at_positions =
                likely.cause == Cause::broken_fibre || likely.cause == Cause::crossed_fibres;
            std::string const where =
                at_positions ? fmt::format("position{} {} of {}", plural_ending(signature.positions.size()),
                                           positions_text(signature.positions), name)
                             : name;
            Finding finding;
            finding.cause = likely.cause;
            finding.links = {link};
            finding.positions = signature.positions;
            finding.probability = likely.probability;
            finding.alternatives = std::move(likely.alternatives);
            finding.evidence = fmt::format("{}: {}", name, signature.cause);
            add(std::move(finding), where);
        }
    }

    Explainer::Site const& site_;
    Columns const& columns_;
    Priors const& priors_;
    std::vector<Finding>& findings_;
    std::vector<std::vector<plant::Signature>> signatures_; // by link; empty: right, or explained
    std::vector<bool> mirrored_;                            // by link
    std::vector<plant::PositionMap> reads_; // by link, without the faults that were already explained
    std::vector<std::uint32_t> wrong_;
};

} // namespace

void Explainer::Site::report_wiring(std::vector<Finding>& findings) const
{
    WiringFindings(*this, findings).report();
}

} // namespace guidepin::cause
