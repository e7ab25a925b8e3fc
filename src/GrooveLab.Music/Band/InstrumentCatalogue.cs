using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Band;

/// <summary>An instrument in a catalogue, with its other names and the roles and registers in which it usually plays.</summary>
/// <param name="Instrument">The instrument.</param>
/// <param name="Registers">Lowest and highest MIDI key per role; for roles not listed, the whole range of the instrument.</param>
/// <param name="OtherNames">Other names that charts may use.</param>
/// <param name="Roles">The roles that it usually plays; null for all roles.</param>
public sealed record CatalogueEntry(
    Instrument Instrument,
    IReadOnlyDictionary<Role, (int Lowest, int Highest)> Registers,
    IReadOnlyList<string> OtherNames,
    IReadOnlyList<Role>? Roles);

/// <summary>The instruments that a chart can name. Immutable data; it contains no sounds: an instrument names a program of the SoundFont
/// bank. It does not know where the data was read from.</summary>
public sealed class InstrumentCatalogue
{
    private readonly IReadOnlyList<(CatalogueEntry Entry, HashSet<string> Names)> _entries;

    /// <summary>Creates a catalogue; when two entries share a name, the first wins.</summary>
    public InstrumentCatalogue(IEnumerable<CatalogueEntry> entries) =>
        _entries = [.. entries.Select(entry => (entry, entry.OtherNames.Append(entry.Instrument.Name).Select(Plain).ToHashSet(StringComparer.Ordinal)))];

    /// <summary>All entries, in order.</summary>
    public IReadOnlyList<CatalogueEntry> Entries => [.. _entries.Select(listed => listed.Entry)];

    /// <summary>All instruments, in order.</summary>
    public IReadOnlyList<Instrument> All => [.. _entries.Select(listed => listed.Entry.Instrument)];

    /// <summary>Finds an instrument by any of its names; ignores case, hyphens and spaces.</summary>
    public bool TryFind(string name, [NotNullWhen(true)] out Instrument? instrument)
    {
        var plain = Plain(name);
        instrument = _entries.FirstOrDefault(listed => listed.Names.Contains(plain)).Entry?.Instrument;
        return instrument is not null;
    }

    /// <summary>The instrument of that name.</summary>
    /// <exception cref="KeyNotFoundException">No instrument has that name.</exception>
    public Instrument ByName(string name) =>
        TryFind(name, out var instrument) ? instrument : throw new KeyNotFoundException($"No instrument is named {name}.");

    /// <summary>This catalogue with the instruments of another added; the added one wins when names are equal.</summary>
    public InstrumentCatalogue With(InstrumentCatalogue other)
    {
        return new InstrumentCatalogue(
            [.. other.Entries, .. Entries.Where(entry => !other.All.Any(instrument => instrument.Name == entry.Instrument.Name))]);
    }

    /// <summary>The default instrument of a role.</summary>
    public Instrument Default(Role role) => ByName(role switch
    {
        Role.Pulse => "bouzouki",
        Role.Roll => "hammered dulcimer",
        Role.Bass => "plucked bass",
        Role.Sustain => "cello",
        Role.Tune => "concertina",
        _ => "clicks",
    });

    /// <summary>True when an instrument usually plays a role; any pitched instrument can.</summary>
    public bool Suits(Instrument instrument, Role role) =>
        EntryOf(instrument) is not { Roles: { } roles } || roles.Contains(role);

    /// <summary>The default register of an instrument in a role: lowest and highest MIDI key.</summary>
    public (int Lowest, int Highest) Register(Instrument instrument, Role role)
    {
        var entry = EntryOf(instrument);
        return entry is not null && entry.Registers.TryGetValue(role, out var register) ? register : (instrument.Lowest, instrument.Highest);
    }

    private CatalogueEntry? EntryOf(Instrument instrument) =>
        _entries.FirstOrDefault(listed => listed.Entry.Instrument.Name == instrument.Name).Entry;

    private static string Plain(string name) => name.Trim().ToLowerInvariant().Replace('-', ' ').Replace('_', ' ');
}
