// SPDX-License-Identifier: Apache-2.0
#include "web/assets.hpp"

#include "base/asset.hpp"
#include "base/hash.hpp"
#include "drawing/row.hpp"
#include "drawing/svg.hpp"
#include "drawing/theme.hpp"

#include <map>

#include <fmt/format.h>

namespace guidepin::web {

std::span<Asset const> embedded_assets();

namespace {

struct Prepared
{
    std::string type, bytes;
};

std::map<std::string, Prepared, std::less<>> prepare()
{
    std::map<std::string, Prepared, std::less<>> files;
    for (Asset const& asset : embedded_assets()) {
        std::string name(asset.name);
        bool const style = name.ends_with(".css");
        std::string bytes =
            style ? drawing::stylesheet() + std::string(asset.bytes) : std::string(asset.bytes);
        files[std::move(name)] = {style ? "text/css; charset=utf-8" : "text/javascript; charset=utf-8",
                                  std::move(bytes)};
    }
    files["mark.svg"] = {"image/svg+xml", drawing::svg_file(drawing::mark_drawing(96))};
    return files;
}

std::map<std::string, Prepared, std::less<>> const& prepared()
{
    static auto const files = prepare();
    return files;
}

} // namespace

std::string const& build_id()
{
    static std::string const id = [] {
        std::uint64_t hash = 0;
        for (auto const& [name, file] : prepared()) hash = hash * 31 + fast_hash(file.bytes);
        return fmt::format("{:012x}", hash & 0xffff'ffff'ffffULL);
    }();
    return id;
}

std::string asset_path(std::string_view name)
{
    return fmt::format("/assets/{}/{}", build_id(), name);
}

std::optional<Reply> asset_reply(std::string_view path)
{
    if (path.substr(0, 8) != "/assets/") return std::nullopt;
    auto const slash = path.find('/', 8);
    auto const found =
        slash == std::string_view::npos ? prepared().end() : prepared().find(path.substr(slash + 1));
    if (found == prepared().end()) return Reply::text("There is no such file.", 404);
    Reply reply;
    reply.type = found->second.type;
    reply.body = found->second.bytes;
    // The mark brings its own style sheet along.
    if (reply.type == "image/svg+xml")
        reply.headers.emplace_back("Content-Security-Policy",
                                   "default-src 'none'; style-src 'unsafe-inline'");
    // Only the address of this build may be kept for good.
    bool const ours = path.substr(8, slash - 8) == build_id();
    reply.headers.emplace_back("Cache-Control", ours ? "public, max-age=31536000, immutable" : "no-cache");
    return reply;
}

} // namespace guidepin::web
