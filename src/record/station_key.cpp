// SPDX-License-Identifier: Apache-2.0
#include "record/station_key.hpp"

#include "record/bytes.hpp"
#include "record/digest.hpp"
#include "record/open_files.hpp"

#include "base/text.hpp"

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::record {

namespace {

constexpr std::string_view file_opening = "guidepin station key 1\n";

void need_sodium()
{
    // 0 the first time, 1 after that; less only when the machine has no source of randomness.
    if (sodium_init() < 0) std::abort();
}

class OpenFile
{
  public:
    explicit OpenFile(int handle)
        : handle_(handle)
    {
    }
    OpenFile(OpenFile const&) = delete;
    OpenFile& operator=(OpenFile const&) = delete;
    ~OpenFile()
    {
        if (handle_ >= 0) ::close(handle_);
    }
    int get() const { return handle_; }

  private:
    int handle_;
};

Error trouble(std::string const& path, char const* doing, int code)
{
    return Error{Errc::environment, fmt::format("Station key {}: {}: {}", path, doing, std::strerror(code))};
}

} // namespace

std::string PublicKey::hex() const
{
    return hex_text(bytes.data(), bytes.size());
}

Result<PublicKey> PublicKey::from_hex(std::string_view text)
{
    PublicKey key;
    if (!read_hex(text, key.bytes.data(), key.bytes.size())) {
        return Error{Errc::invalid_input, "A public key is 64 lower-case hexadecimal digits"};
    }
    return key;
}

std::string Signature::hex() const
{
    return hex_text(bytes.data(), bytes.size());
}

bool signature_holds(PublicKey const& key, std::string_view message, Signature const& signature)
{
    return crypto_sign_verify_detached(signature.bytes.data(), as_bytes(message), message.size(),
                                       key.bytes.data()) == 0;
}

std::string station_of(PublicKey const& key)
{
    auto const* first = reinterpret_cast<char const*>(key.bytes.data());
    return sha256({first, key.bytes.size()}).hex().substr(0, 12);
}

StationKey StationKey::from_seed(std::array<std::uint8_t, 32> const& seed)
{
    need_sodium();
    StationKey key;
    key.seed_ = seed;
    crypto_sign_seed_keypair(key.public_key_.bytes.data(), key.secret_.data(), seed.data());
    key.station_ = station_of(key.public_key_);
    return key;
}

StationKey StationKey::generate()
{
    need_sodium();
    std::array<std::uint8_t, 32> seed{};
    randombytes_buf(seed.data(), seed.size());
    StationKey key = from_seed(seed);
    sodium_memzero(seed.data(), seed.size());
    return key;
}

Result<StationKey> StationKey::read_or_make(std::string const& path)
{
    need_sodium();
    struct stat named
    {
    };
    // Before it is opened: a pipe would wait for its other end, and closing an open job file drops the job's
    // locks.
    bool const exists = ::stat(path.c_str(), &named) == 0;
    if (exists && (!S_ISREG(named.st_mode) || is_open_here(named.st_dev, named.st_ino))) {
        return Error{Errc::invalid_input,
                     fmt::format("{} is no file with a station key; name such a file with --key", path)};
    }
    OpenFile const file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    if (file.get() < 0 && errno != ENOENT) return trouble(path, "cannot be read", errno);
    if (file.get() >= 0) {
        struct stat about
        {
        };
        if (::fstat(file.get(), &about) != 0) return trouble(path, "cannot be read", errno);
        if ((about.st_mode & 077) != 0) {
            return Error{
                Errc::refused,
                fmt::format("Station key {} may be read by others (mode {:04o}); it signs in your name. "
                            "Close it with: chmod 600 '{}'",
                            path, about.st_mode & 07777, path)};
        }
        char text[256];
        ssize_t const size = ::read(file.get(), text, sizeof text);
        if (size < 0) return trouble(path, "cannot be read", errno);
        std::string_view content(text, static_cast<std::size_t>(size));
        std::array<std::uint8_t, 32> seed{};
        bool const good = content.starts_with(file_opening) &&
                          read_hex(trimmed(content.substr(file_opening.size())), seed.data(), seed.size());
        sodium_memzero(text, sizeof text);
        if (!good) {
            return Error{Errc::invalid_input,
                         fmt::format("{} is not a station key of this program. Move it away and a new "
                                     "key, hence a new station, is made",
                                     path)};
        }
        StationKey key = from_seed(seed);
        sodium_memzero(seed.data(), seed.size());
        return key;
    }

    auto const folder = std::filesystem::path(path).parent_path();
    std::error_code code;
    if (!folder.empty() && std::filesystem::create_directories(folder, code)) {
        std::filesystem::permissions(folder, std::filesystem::perms::owner_all, code);
    }
    if (code) return trouble(path, "its folder cannot be made", code.value());

    StationKey key = generate();
    std::string content = fmt::format("{}{}\n", file_opening, hex_text(key.seed_.data(), key.seed_.size()));
    // Written whole beside and linked into place, so that of two programs starting at once the second reads
    // the first's.
    std::string const beside = fmt::format("{}.{}", path, ::getpid());
    {
        OpenFile const made(::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600));
        if (made.get() < 0) return trouble(path, "cannot be made", errno);
        ssize_t const written = ::write(made.get(), content.data(), content.size());
        int const write_code = errno;
        bool const whole = written == static_cast<ssize_t>(content.size()) && ::fsync(made.get()) == 0;
        sodium_memzero(content.data(), content.size());
        if (!whole) {
            ::unlink(beside.c_str());
            return trouble(path, "cannot be written", write_code);
        }
    }
    int const linked = ::link(beside.c_str(), path.c_str());
    int const link_code = errno;
    ::unlink(beside.c_str());
    if (linked != 0 && link_code == EEXIST) return read_or_make(path);
    if (linked != 0) return trouble(path, "cannot be written", link_code);
    return key;
}

StationKey::StationKey(StationKey&& other) noexcept
{
    *this = std::move(other);
}

StationKey& StationKey::operator=(StationKey&& other) noexcept
{
    if (this == &other) return *this;
    seed_ = other.seed_;
    secret_ = other.secret_;
    public_key_ = other.public_key_;
    station_ = std::move(other.station_);
    sodium_memzero(other.seed_.data(), other.seed_.size());
    sodium_memzero(other.secret_.data(), other.secret_.size());
    return *this;
}

StationKey::~StationKey()
{
    sodium_memzero(seed_.data(), seed_.size());
    sodium_memzero(secret_.data(), secret_.size());
}

Signature StationKey::sign(std::string_view message) const
{
    Signature signature;
    crypto_sign_detached(signature.bytes.data(), nullptr, as_bytes(message), message.size(), secret_.data());
    return signature;
}

} // namespace guidepin::record
