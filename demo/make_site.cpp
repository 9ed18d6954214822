// SPDX-License-Identifier: Apache-2.0
// Invents the demo's site: what was drawn, what really hangs there, and three days of measuring it.
// It uses nothing of the program whose demo it feeds: own chance, own maps, own loss, own writing. Only sums
// and products of doubles, rounded to hundredths, so that every machine writes the same bytes.
#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace {

// ---- chance

class Chance
{
  public:
    explicit Chance(std::uint64_t seed)
        : state_(seed)
    {
    }
    double uniform() // 0 … 1; the generator is splitmix64
    {
        state_ += 0x9E3779B97F4A7C15ULL;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
        z ^= z >> 31;
        return static_cast<double>(z >> 11) / 9007199254740992.0;
    }
    double between(double low, double high) { return low + (high - low) * uniform(); }
    double normal() // near enough: twelve uniforms
    {
        double sum = -6;
        for (int i = 0; i < 12; ++i) sum += uniform();
        return sum;
    }
    /// A joint: a floor, and the square of a lateral offset. Positive, skewed, never above `cap` (the lot was
    /// inspected before it was sold).
    double joint(double mean, double cap)
    {
        for (;;) {
            double const x = normal();
            double const y = normal();
            double const loss = mean * (0.45 + 0.275 * (x * x + y * y));
            if (loss <= cap) return loss;
        }
    }

  private:
    std::uint64_t state_;
};

// ---- writing

std::string fixed(double value, int decimals)
{
    double scale = 1;
    for (int i = 0; i < decimals; ++i) scale *= 10;
    bool const negative = value < 0;
    auto const whole = static_cast<long long>((negative ? -value : value) * scale + 0.5);
    std::string digits = std::to_string(whole);
    while (digits.size() <= static_cast<std::size_t>(decimals)) digits.insert(0, 1, '0');
    if (decimals > 0) digits.insert(digits.size() - static_cast<std::size_t>(decimals), 1, '.');
    return (negative && whole != 0 ? "-" : "") + digits;
}

std::string two_digits(int value)
{
    return (value < 10 ? "0" : "") + std::to_string(value);
}

std::string moment(int day, int second)
{
    return "2026-03-" + two_digits(day + 1) + "T" + two_digits(second / 3600) + ":" +
           two_digits(second / 60 % 60) + ":" + two_digits(second % 60) + "+01:00";
}

void write(std::string const& path, std::string const& text)
{
    std::ofstream out(path, std::ios::binary);
    out << text;
    out.close();
    if (!out) {
        std::fprintf(stderr, "demo_make_site: cannot write %s\n", path.c_str());
        std::exit(4);
    }
}

// ---- what was drawn

enum class Path { straight, mirrored, pairs };

int far_end(Path path, int position, int positions)
{
    if (path == Path::mirrored) return positions + 1 - position;
    if (path == Path::pairs) return position % 2 == 1 ? position + 1 : position - 1;
    return position;
}

struct Zone
{
    std::string prefix;
    int first, count;
    std::string name, row_a, row_b, category, family, fibres, type;
    Path path;
    int grid; ///< holes of the plug, or ports of the module
    std::string pins, face, adapter;
    int inner;
    std::string applications;
    int shortest, longest; ///< metres, as drawn
};

std::string module_chain(std::string const& module, std::string const& adapter, std::string const& trunk)
{
    return "module:" + module + " adapter:" + adapter + " trunk:" + trunk + " adapter:" + adapter +
           " module:" + module;
}

std::vector<Zone> zones()
{
    std::string const sr = "E10SR|E25SR";
    // The far port of each module method: TIA-568.3, components of methods A, B, C, U1 and U2.
    return {
        {"N-", 1, 28, "North quay", "NQ-1", "NQ-6", "OM4", "mpo-12", "12", "B", Path::mirrored, 12, "pinned",
         "flat", "opposed", 0, "E100SR4", 34, 78},
        {"E-", 1, 12, "East shed", "ES-1", "ES-4", "OM4", "mpo-12", "12", "A", Path::straight, 12, "pinned",
         "flat", "opposed", 0, "E100SR4", 28, 66},
        {"E-", 13, 4, "East shed", "ES-1", "ES-5", "OM4", "mpo-12", "12", "C", Path::pairs, 12, "pinned",
         "flat", "opposed", 0, "", 28, 66},
        {"S-", 1, 24, "South quay", "SQ-2", "SQ-7", "OM4", "mpo-12", "8-outer", "B", Path::mirrored, 12,
         "pinned", "flat", "aligned", 0, "E100SR4", 30, 82},
        {"W-", 1, 20, "West tower", "WT-1", "WT-9", "OS2", "mpo-12", "8-outer", "B", Path::mirrored, 12,
         "pinned", "angled", "opposed", 0, "E400DR4", 70, 260},
        {"V-", 1, 12, "Harbour vault", "HV-1", "WT-3", "OS2", "mpo-12", "12", "A", Path::straight, 12,
         "pinned", "angled", "opposed", 0, "E100PSM4", 120, 380},
        {"K-", 1, 14, "Crane hall", "CH-1", "WT-4", "OS2", "mpo-16", "16", "B", Path::mirrored, 16, "pinned",
         "angled", "opposed", 0, "E800DR8", 60, 240},
        {"MA-", 1, 6, "Office deck", "OD-1", "NQ-6", "OM4", "duplex-12", "all",
         module_chain("straight", "opposed", "A"), Path::straight, 12, "", "", "", 2, sr, 24, 60},
        {"MB-", 1, 6, "Office deck", "OD-2", "NQ-6", "OM4", "duplex-12", "all",
         module_chain("straight", "aligned", "B"), Path::mirrored, 12, "", "", "", 2, sr, 24, 60},
        {"MC-", 1, 6, "Office deck", "OD-3", "SQ-7", "OM4", "duplex-12", "all",
         module_chain("straight", "opposed", "C"), Path::pairs, 12, "", "", "", 2, sr, 24, 60},
        {"MU1-", 1, 9, "Office deck", "OD-4", "SQ-7", "OM4", "duplex-12", "all",
         module_chain("U1", "opposed", "B"), Path::pairs, 12, "", "", "", 2, sr, 24, 60},
        {"MU2-", 1, 9, "Office deck", "OD-5", "SQ-2", "OM4", "duplex-12", "all",
         module_chain("U2", "aligned", "B"), Path::pairs, 12, "", "", "", 2, sr, 24, 60},
    };
}

struct Fibre
{
    int near = 0, far = 0;        ///< far 0: dark
    std::array<double, 2> loss{}; ///< at the zone's wavelengths
};

struct Link
{
    std::string id;
    Zone zone;
    int drawn = 0;   ///< metres
    double real = 0; ///< metres
    std::vector<Fibre> fibres;
};

bool single_mode(Zone const& zone)
{
    return zone.category == "OS2";
}

std::vector<int> wavelengths_of(Zone const& zone)
{
    return single_mode(zone) ? std::vector<int>{1310, 1550} : std::vector<int>{850};
}

std::vector<int> positions_of(Zone const& zone)
{
    std::vector<int> positions;
    for (int p = 1; p <= zone.grid; ++p) {
        if (zone.fibres != "8-outer" || p <= 4 || p >= 9) positions.push_back(p);
    }
    return positions;
}

/// The same cable and joints for both labels of the swapped pair are drawn from `metres`, what really hangs
/// there.
void lay(Link& link, double metres, Chance& chance)
{
    link.real = metres;
    Zone const& zone = link.zone;
    bool const glass = single_mode(zone);
    double const end_mean = zone.inner > 0 ? 0.10 : glass ? 0.17 : 0.13;
    link.fibres.clear();
    for (int const p : positions_of(zone)) {
        Fibre fibre;
        fibre.near = p;
        fibre.far = far_end(zone.path, p, zone.grid);
        double joints = 0;
        for (int i = 0; i < 2; ++i) joints += chance.joint(end_mean, 0.36);
        for (int i = 0; i < zone.inner; ++i) joints += chance.joint(0.15, 0.40);
        double const km = metres / 1000;
        if (glass) {
            fibre.loss = {joints + 0.33 * km, joints * 0.82 + 0.20 * km + chance.between(0, 0.03)};
        } else {
            fibre.loss = {joints + chance.between(2.3, 2.6) * km, 0};
        }
        link.fibres.push_back(fibre);
    }
}

// ---- the faults, the only place that knows them

struct Truth
{
    std::string link, fault, positions, detail, expected;
};

Fibre& fibre_at(Link& link, int near)
{
    return *std::find_if(link.fibres.begin(), link.fibres.end(),
                         [&](Fibre const& f) { return f.near == near; });
}

using Site = std::vector<Link>;

Link& link_named(Site& site, std::string const& id)
{
    return *std::find_if(site.begin(), site.end(), [&](Link const& link) { return link.id == id; });
}

std::vector<Truth> spoil(Site& site, Chance& chance)
{
    fibre_at(link_named(site, "N-07"), 5).loss[0] += 1.15;
    fibre_at(link_named(site, "N-15"), 9).loss[0] += 1.42; // cleaned later: see measure()
    for (Fibre& fibre : link_named(site, "W-11").fibres) { // the whole cable is bent, not one fibre
        double const bend = chance.between(1.15, 1.75);
        fibre.loss[0] += 0.035 * bend;
        fibre.loss[1] += bend;
    }
    Link& crossed = link_named(site, "E-06");
    std::swap(fibre_at(crossed, 3).far, fibre_at(crossed, 4).far);
    for (Fibre& fibre : link_named(site, "E-10").fibres) fibre.far = 13 - fibre.near;
    fibre_at(link_named(site, "S-15"), 10).far = 0;
    Link& left = link_named(site, "S-17");
    Link& right = link_named(site, "S-18");
    std::swap(left.real, right.real);
    std::swap(left.fibres, right.fibres);
    return {
        {"N-07", "dirty-position", "5", "one end face dirty: +1.15 dB at 850 nm", "fail: loss"},
        {"N-15", "dirty-position-cleaned", "9",
         "+1.42 dB at 850 nm in the first test; cleaned and tested again the same day", "pass on the retest"},
        {"W-11", "macrobend", "1-4 9-12",
         "cable bent: +1.15 to +1.75 dB at 1550 nm and next to nothing at 1310 nm",
         "fail: loss at 1550 nm only"},
        {"E-06", "crossed-pair", "3 4", "3 arrives at 4 and 4 at 3", "fail: polarity"},
        {"E-10", "wrong-trunk-type", "1-12", "a type B trunk where A was scheduled", "fail: polarity"},
        {"S-15", "dark-fibre", "10", "no light at B", "fail: dark position"},
        {"S-17", "mislabelled", "1-4 9-12",
         "labels of S-17 and S-18 exchanged: lengths do not fit the drawing", "fail: length"},
        {"S-18", "mislabelled", "1-4 9-12",
         "labels of S-17 and S-18 exchanged: lengths do not fit the drawing", "fail: length"},
    };
}

Site draw(Chance& chance)
{
    Site site;
    for (Zone const& zone : zones()) {
        for (int i = 0; i < zone.count; ++i) {
            Link link;
            link.id = zone.prefix + two_digits(zone.first + i);
            link.zone = zone;
            link.drawn = static_cast<int>(chance.between(zone.shortest, zone.longest + 1));
            if (link.id == "S-17") link.drawn = 38;
            if (link.id == "S-18") link.drawn = 71;
            lay(link, link.drawn * chance.between(0.99, 1.015), chance);
            site.push_back(std::move(link));
        }
    }
    return site;
}

std::string schedule(Site const& site)
{
    std::string text = "link,zone,end_a,end_b,category,length_m,family,fibres,trunk_type,pins_a,pins_b,face,"
                       "adapter_a,adapter_b,inner_connections,splices,applications\n";
    std::map<std::string, int> used; // the slots of a cabinet fill up from the left
    for (Link const& link : site) {
        Zone const& z = link.zone;
        std::string const a = z.row_a + "/" + two_digits(++used[z.row_a]);
        std::string const b = z.row_b + "/" + two_digits(++used[z.row_b]);
        text += link.id + "," + z.name + "," + a + "," + b + "," + z.category + "," +
                std::to_string(link.drawn) + "," + z.family + "," + z.fibres + "," + z.type + "," + z.pins +
                "," + z.pins + "," + z.face + "," + z.adapter + "," + z.adapter + "," +
                std::to_string(z.inner) + ",0," + z.applications + "\n";
    }
    return text;
}

// ---- three days

struct Session
{
    std::string reference;
    int day;
    std::string who;
    int start; ///< second of the day
    std::vector<std::string> links;
    std::vector<std::size_t> checks; ///< before the link of this number; the last one after all
    bool between_plugs;              ///< cord check with a known cord between launch and tail: two joints
    double drift = 0;                ///< dB at the end of the session
    std::size_t drift_from = 0;      ///< number of the link where it begins
};

std::vector<std::string> ids(std::string const& prefix, int from, int to)
{
    std::vector<std::string> list;
    for (int i = from; i <= to; ++i) list.push_back(prefix + two_digits(i));
    return list;
}

std::vector<std::string> ids(std::vector<std::vector<std::string>> const& parts)
{
    std::vector<std::string> list;
    for (auto const& part : parts) list.insert(list.end(), part.begin(), part.end());
    return list;
}

int clock(int hour, int minute)
{
    return hour * 3600 + minute * 60;
}

std::vector<Session> sessions()
{
    return {
        {"R-1", 1, "Ines", clock(8, 5), ids("N-", 1, 28), {0, 14, 28}, true},
        {"R-2", 1, "Tomasz", clock(8, 20), ids("W-", 1, 20), {0, 10, 20}, true},
        {"R-3",
         2,
         "Ines",
         clock(7, 55),
         ids({ids("E-", 1, 16), ids("S-", 1, 12)}),
         {0, 13, 28},
         true,
         0.34,
         14},
        {"R-4", 2, "Tomasz", clock(8, 10), ids("V-", 1, 10), {0, 10}, true},
        {"R-5", 2, "Tomasz", clock(13, 10), ids("K-", 1, 6), {0, 6}, true},
        {"R-6", 3, "Ines", clock(8, 0), ids("S-", 13, 24), {0, 12}, true},
        {"R-7",
         3,
         "Ines",
         clock(13, 0),
         ids({ids("MA-", 1, 6), ids("MB-", 1, 6), ids("MC-", 1, 6)}),
         {0, 18},
         false},
        {"R-8", 3, "Tomasz", clock(8, 15), ids("K-", 7, 12), {0, 6}, true},
        {"R-9", 3, "Tomasz", clock(12, 30), ids({ids("MU1-", 1, 9), ids("MU2-", 1, 8)}), {0, 17}, false},
    };
}

struct Row
{
    int second;
    std::string text;
};

std::string in_time_order(std::string header, std::vector<Row> rows)
{
    std::stable_sort(rows.begin(), rows.end(),
                     [](Row const& a, Row const& b) { return a.second < b.second; });
    for (Row const& row : rows) header += row.text;
    return header;
}

class Measuring
{
  public:
    Measuring(Site& site, Chance& chance)
        : site_(site)
        , chance_(chance)
    {
    }

    std::map<std::string, std::string> references;    ///< by id
    std::array<std::vector<Row>, 4> checks, readings; ///< by day
    std::vector<Truth> held;
    std::set<std::string> measured;

    void run(Session const& session)
    {
        session_ = &session;
        Zone const zone = link_named(site_, session.links.front()).zone;
        now_ = session.start;
        take_reference(zone);
        now_ += 150 + static_cast<int>(chance_.between(0, 90));
        std::vector<std::vector<double>> joined;
        for (int p = 1; p <= zone.grid; ++p) { // the cords stay the same all day: so do their joints, nearly
            bool const glass = single_mode(zone);
            double joints = chance_.joint(glass ? 0.09 : 0.055, glass ? 0.17 : 0.10);
            if (session.between_plugs) joints += chance_.joint(glass ? 0.09 : 0.055, glass ? 0.17 : 0.10);
            joined.push_back({joints, joints * 0.85});
        }
        std::size_t next_check = 0;
        for (std::size_t i = 0; i <= session.links.size(); ++i) {
            drifted_ = i <= session.drift_from
                           ? 0.0
                           : session.drift * static_cast<double>(i - session.drift_from) /
                                 static_cast<double>(session.links.size() - session.drift_from);
            if (next_check < session.checks.size() && session.checks[next_check] == i) {
                check_cords(zone, joined);
                ++next_check;
            }
            if (i == session.links.size()) break;
            Link& link = link_named(site_, session.links[i]);
            measure(link, 'a');
            bool const both = link.zone.prefix == "W-" && i < 4; // the first four of the tower from both ends
            if (both) {
                now_ += 170;
                measure(link, 'b');
            }
            // What lies between the last good check and the one that shows the drift is in doubt, drifted or
            // not.
            if (session.drift > 0 && next_check + 1 == session.checks.size()) {
                held.push_back({link.id, "drifting-reference", "",
                                "measured after the last good cord check of " + session.reference +
                                    "; it had drifted by " + fixed(drifted_, 2) + " dB",
                                "held once the last cord check is read"});
            }
            bool const slow = single_mode(zone) || link.zone.inner > 0;
            now_ += static_cast<int>(slow ? chance_.between(370, 560) : chance_.between(350, 500));
            if (link.id == "N-17") {
                Link& again = link_named(site_, "N-15");
                fibre_at(again, 9).loss[0] -= 1.42;
                measure(again, 'a');
                now_ += 420;
            }
            if (now_ > clock(12, 0) && now_ < clock(12, 30) && session.start < clock(12, 0))
                now_ += clock(0, 35);
        }
    }

  private:
    Site& site_;
    Chance& chance_;
    Session const* session_ = nullptr;
    int now_ = 0;
    int check_number_ = 0;
    double drifted_ = 0;
    std::map<std::pair<int, int>, double> power_; ///< dBm by position and wavelength

    bool as_power() const
    {
        return session_->day == 3;
    } // the last day's files hold powers, the others losses

    void take_reference(Zone const& zone)
    {
        std::string text = "reference,position,wavelength_nm,power_dbm,taken_at\n";
        power_.clear();
        int step = 0;
        for (int const wavelength : wavelengths_of(zone)) {
            double const level = single_mode(zone) ? (wavelength == 1310 ? -5.4 : -5.9) : -20.6;
            for (int p = 1; p <= zone.grid; ++p)
                power_[{p, wavelength}] = level + chance_.between(-0.22, 0.22);
            for (int time = 0; time < 3; ++time) {
                for (int p = 1; p <= zone.grid; ++p) {
                    bool const repeated = p == 1 || p == zone.grid / 2 || p == zone.grid;
                    if (time > 0 && !repeated) continue;
                    double const shown = power_[{p, wavelength}] + 0.008 * chance_.normal();
                    text += session_->reference + "," + std::to_string(p) + "," + std::to_string(wavelength) +
                            "," + fixed(shown, 2) + "," + moment(session_->day, now_ + 12 * step) + "\n";
                }
                ++step;
            }
        }
        now_ += 12 * step;
        references[session_->reference] = text;
    }

    void check_cords(Zone const& zone, std::vector<std::vector<double>> const& joined)
    {
        std::string const check = "C-" + std::to_string(++check_number_);
        auto const wavelengths = wavelengths_of(zone);
        for (std::size_t w = 0; w < wavelengths.size(); ++w) {
            for (int p = 1; p <= zone.grid; ++p) {
                double const loss =
                    joined[static_cast<std::size_t>(p - 1)][w] + drifted_ + 0.012 * chance_.normal();
                int const at = now_ + static_cast<int>(w) * 3;
                checks[static_cast<std::size_t>(session_->day)].push_back(
                    {at, check + "," + session_->reference + "," + std::to_string(p) + "," +
                             std::to_string(p) + "," + std::to_string(wavelengths[w]) + "," +
                             fixed(loss < 0.02 ? 0.02 : loss, 2) + "," + moment(session_->day, at) + "\n"});
            }
        }
        now_ += 240 + static_cast<int>(chance_.between(0, 120));
    }

    void measure(Link const& link, char launch)
    {
        measured.insert(link.id);
        auto const wavelengths = wavelengths_of(link.zone);
        double const length = link.real + chance_.between(-0.15, 0.15);
        for (std::size_t w = 0; w < wavelengths.size(); ++w) {
            std::vector<std::pair<int, std::string>> lines; // by launch position
            for (Fibre const& fibre : link.fibres) {
                int const position = launch == 'a' ? fibre.near : fibre.far;
                int const far = launch == 'a' ? fibre.far : fibre.near;
                double const loss = fibre.loss[w] + drifted_ + 0.012 * chance_.normal();
                double const reference = power_[{position, wavelengths[w]}];
                bool const dark = fibre.far == 0;
                std::string const value =
                    as_power() ? fixed(dark ? -70.0 : reference - loss, 2) : fixed(dark ? 49.0 : loss, 2);
                std::string const metres = dark ? "" : fixed(length + chance_.between(-0.1, 0.1), 1);
                int const at = now_ + static_cast<int>(w) * 3;
                lines.emplace_back(position, link.id + "," + launch + "," + std::to_string(position) + "," +
                                                 std::to_string(far) + "," + std::to_string(wavelengths[w]) +
                                                 "," + value + "," + metres + "," +
                                                 moment(session_->day, at) + "," + session_->reference + "," +
                                                 session_->who + "\n");
            }
            std::sort(lines.begin(), lines.end());
            for (auto& [position, text] : lines) {
                readings[static_cast<std::size_t>(session_->day)].push_back(
                    {now_ + static_cast<int>(w) * 3, std::move(text)});
            }
        }
    }
};

std::string lower(std::string text)
{
    for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return text;
}

std::string truth_table(std::vector<Truth> const& rows)
{
    std::string text = "link,fault,positions,detail,expected\n";
    for (Truth const& row : rows) {
        text +=
            row.link + "," + row.fault + "," + row.positions + "," + row.detail + "," + row.expected + "\n";
    }
    return text;
}

} // namespace

int main(int argc, char** argv)
{
    if (argc != 2) {
        std::fprintf(stderr, "usage: demo_make_site OUTDIR (an existing folder)\n");
        return 2;
    }
    std::string const out = std::string{argv[1]} + "/";
    Chance chance{20260302};
    Site site = draw(chance);
    write(out + "schedule.csv", schedule(site));
    std::vector<Truth> truth = spoil(site, chance);

    Measuring measuring{site, chance};
    for (Session const& session : sessions()) {
        measuring.run(session);
        write(out + "references-day" + std::to_string(session.day) + "-" + lower(session.reference) + ".csv",
              measuring.references[session.reference]);
    }
    for (std::size_t day = 1; day <= 3; ++day) {
        std::string const name = "day" + std::to_string(day) + ".csv";
        write(out + "cord-checks-" + name,
              in_time_order("check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n",
                            measuring.checks[day]));
        write(out + "readings-" + name,
              in_time_order(std::string{"link,launch_end,position,far_position,wavelength_nm,"} +
                                (day == 3 ? "power_dbm" : "attenuation_db") +
                                ",length_m,taken_at,reference,operator\n",
                            measuring.readings[day]));
    }
    truth.insert(truth.end(), measuring.held.begin(), measuring.held.end());
    for (Link const& link : site) {
        if (measuring.measured.count(link.id) == 0)
            truth.push_back({link.id, "not-tested", "", "nobody was there yet", "open"});
    }
    write(out + "truth.csv", truth_table(truth));
    return 0;
}
