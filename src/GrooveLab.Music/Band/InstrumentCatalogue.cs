using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Band;

/// <summary>An instrument as a catalogue lists it: what a chart may call it, and where and in which roles it usually plays.</summary>
/// <param name="Instrument">The instrument.</param>
/// <param name="Registers">Lowest and highest MIDI key for a role; the instrument's whole range for a role that is not listed.</param>
/// <param name="OtherNames">Other names it goes by.</param>
/// <param name="Roles">The roles that it usually plays; null when it suits every role.</param>
public sealed record CatalogueEntry(
    Instrument Instrument,
    IReadOnlyDictionary<Role, (int Lowest, int Highest)> Registers,
    IReadOnlyList<string> OtherNames,
    IReadOnlyList<Role>? Roles);

/// <summary>
/// The instruments that a chart can name. Data, immutable; not the sounds: an instrument says which program a SoundFont bank is
/// asked for. Where they are read from is not known here.
/// </summary>
public sealed class InstrumentCatalogue
{
    private readonly IReadOnlyList<(CatalogueEntry Entry, HashSet<string> Names)> _entries;

    /// <summary>Makes a catalogue; where two entries share a name, the first one answers to it.</summary>
    public InstrumentCatalogue(IEnumerable<CatalogueEntry> entries) =>
        _entries = [.. entries.Select(entry => (entry, entry.OtherNames.Append(entry.Instrument.Name).Select(Plain).ToHashSet(StringComparer.Ordinal)))];

    /// <summary>All entries, in order.</summary>
    public IReadOnlyList<CatalogueEntry> Entries => [.. _entries.Select(listed => listed.Entry)];

    /// <summary>All instruments, in order.</summary>
    public IReadOnlyList<Instrument> All => [.. _entries.Select(listed => listed.Entry.Instrument)];

    /// <summary>Finds an instrument by its name or another that it goes by; capital letters make no difference, hyphens and blanks neither.</summary>
    public bool TryFind(string name, [NotNullWhen(true)] out Instrument? instrument)
    {
        var plain = Plain(name);
        instrument = _entries.FirstOrDefault(listed => listed.Names.Contains(plain)).Entry?.Instrument;
        return instrument is not null;
    }

    /// <summary>The instrument of that name.</summary>
    /// <exception cref="KeyNotFoundException">There is none.</exception>
    public Instrument ByName(string name) =>
        TryFind(name, out var instrument) ? instrument : throw new KeyNotFoundException($"There is no instrument named {name}.");

    /// <summary>This catalogue with another's instruments added; one of the same name takes the place of the one here.</summary>
    public InstrumentCatalogue With(InstrumentCatalogue other)
    {
        return new InstrumentCatalogue(
            [.. other.Entries, .. Entries.Where(entry => !other.All.Any(instrument => instrument.Name == entry.Instrument.Name))]);
    }

    /// <summary>What plays a role when a chart does not say.</summary>
    public Instrument Default(Role role) => ByName(role switch
    {
        Role.Pulse => "bouzouki",
        Role.Roll => "hammered dulcimer",
        Role.Bass => "plucked bass",
        Role.Sustain => "cello",
        Role.Tune => "concertina",
        _ => "clicks",
    });

    /// <summary>Whether an instrument usually plays a role; every pitched one can.</summary>
    public bool Suits(Instrument instrument, Role role) =>
        EntryOf(instrument) is not { Roles: { } roles } || roles.Contains(role);

    /// <summary>Where an instrument plays a role when a chart does not say: its lowest and highest MIDI key.</summary>
    public (int Lowest, int Highest) Register(Instrument instrument, Role role)
    {
        var entry = EntryOf(instrument);
        return entry is not null && entry.Registers.TryGetValue(role, out var register) ? register : (instrument.Lowest, instrument.Highest);
    }

    private CatalogueEntry? EntryOf(Instrument instrument) =>
        _entries.FirstOrDefault(listed => listed.Entry.Instrument.Name == instrument.Name).Entry;

    private static string Plain(string name) => name.Trim().ToLowerInvariant().Replace('-', ' ').Replace('_', ' ');
}
