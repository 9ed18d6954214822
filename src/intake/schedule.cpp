// SPDX-License-Identifier: Apache-2.0
#include "intake/schedule.hpp"

#include "base/text.hpp"
#include "intake/row_source.hpp"

#include <cmath>
#include <unordered_map>

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

/// Reads one row after another into links; each part of a row is tried, so that all its faults are reported
/// at once.
class ScheduleReader
{
  public:
    explicit ScheduleReader(RowSource& source)
        : source_(source)
    {
        for (char const* const column : {"length_m", "length_ft", "length"}) {
            if (source_.has(source_.column(column))) length_ = source_.column(column);
        }
    }

    plant::LinkSpec read()
    {
        plant::LinkSpec link;
        name(link_, link.id);
        name(zone_, link.zone);
        name(end_a_, link.a.name);
        name(end_b_, link.b.name);
        name(category_, link.category);
        name(trunk_type_, link.trunk_type);
        read_length(link);
        bool const family = parsed(family_, link.family, plant::parse_family);
        if (family) {
            parsed(fibres_, link.fibres,
                   [&](std::string_view text) { return plant::parse_occupancy(text, link.family); });
        }
        parsed(pins_a_, link.a.pins, plant::parse_pins);
        parsed(pins_b_, link.b.pins, plant::parse_pins);
        parsed(face_, link.face, plant::parse_face);
        parsed(adapter_a_, link.a.fitting, plant::parse_end_fitting);
        parsed(adapter_b_, link.b.fitting, plant::parse_end_fitting);
        count(inner_connections_, link.inner_connections);
        count(splices_, link.splices);
        read_applications(link);
        return link;
    }

  private:
    void name(std::size_t column, std::string& into)
    {
        if (auto const text = source_.name(column)) into = *text;
    }

    /// False when the cell was empty or did not hold.
    template <class Value, class Parse>
    bool parsed(std::size_t column, Value& into, Parse const& parse)
    {
        auto const text = source_.name(column);
        if (!text || text->empty()) return false;
        auto value = parse(*text);
        if (!value) {
            source_.fail(column, value.error().message);
            return false;
        }
        into = *value;
        return true;
    }

    void count(std::size_t column, int& into)
    {
        auto const text = source_.cell(column);
        if (!text) return;
        if (char const* const fault = read_count(*text, into)) source_.fail(column, fault);
    }

    void read_length(plant::LinkSpec& link)
    {
        auto const text = source_.cell(length_);
        if (!text) return;
        double metres = 0;
        char const* fault = intake::read_length(*text, '.', source_.length_unit(), metres);
        if (fault == nullptr && !(metres > 0)) fault = "is no length of a link; it must be above zero";
        if (fault != nullptr) source_.fail(length_, fault);
        link.length = Metres{metres};
    }

    void read_applications(plant::LinkSpec& link)
    {
        auto const text = source_.name(applications_);
        if (!text) return;
        std::string_view rest = *text;
        while (!rest.empty()) {
            auto const end = rest.find_first_of("|;,");
            std::string_view const one = trimmed(rest.substr(0, end));
            if (!one.empty()) link.applications.emplace_back(one);
            rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
        }
    }

    RowSource& source_;
    std::size_t length_ = 0;
    std::size_t link_ = source_.column("link");
    std::size_t zone_ = source_.column("zone");
    std::size_t end_a_ = source_.column("end_a");
    std::size_t end_b_ = source_.column("end_b");
    std::size_t category_ = source_.column("category");
    std::size_t trunk_type_ = source_.column("trunk_type");
    std::size_t family_ = source_.column("family");
    std::size_t fibres_ = source_.column("fibres");
    std::size_t pins_a_ = source_.column("pins_a");
    std::size_t pins_b_ = source_.column("pins_b");
    std::size_t face_ = source_.column("face");
    std::size_t adapter_a_ = source_.column("adapter_a");
    std::size_t adapter_b_ = source_.column("adapter_b");
    std::size_t inner_connections_ = source_.column("inner_connections");
    std::size_t splices_ = source_.column("splices");
    std::size_t applications_ = source_.column("applications");
};

} // namespace

Result<Intake<Schedule>> read_schedule(std::string_view file, ReadOptions const& options)
{
    auto opened = RowSource::open(file, LayoutKind::schedule, options);
    if (!opened) return opened.error().within(options.name);
    RowSource& source = *opened;
    ScheduleReader reader(source);
    Intake<Schedule> result;
    std::unordered_map<std::string, std::uint32_t> line_of_link;
    while (source.next()) {
        plant::LinkSpec link = reader.read();
        if (!link.id.empty()) {
            auto const [first, added] = line_of_link.try_emplace(link.id, source.line());
            if (!added)
                source.fail(source.column("link"),
                            fmt::format("is the name of the link in line {} already", first->second));
        }
        if (source.row_failed()) continue;
        result.content.links.push_back(std::move(link));
        result.content.lines.push_back(source.line());
    }
    result.rows = source.rows();
    result.unused_columns = source.unused_columns();
    result.dialect = source.dialect();
    result.bad = source.problems().take();
    result.refused = result.bad.count > 0 && !options.keep_good_rows;
    if (result.refused) result.content = {};
    return result;
}

} // namespace guidepin::intake
