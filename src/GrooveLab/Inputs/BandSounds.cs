using GrooveLab.Audio.SoundFonts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Inputs;

/// <summary>Which sounds of a bank play a band, in words.</summary>
internal static class BandSounds
{
    // Real banks leave out a few notes at the ends of an instrument's range, which a part seldom plays: reported when a quarter of the notes or more are missing.
    private const int LeastShareToTell = 4;

    /// <summary>The built-in bank if a bank has no drum kit or no pitched sound; null if it has both.</summary>
    public static SoundFontBank? StandIn(SoundFontBank bank) =>
        bank.FindPreset(0, 0).IsOtherKind || bank.FindPreset(SoundFontPreset.PercussionBank, 0).IsOtherKind ? Banks.Open(null) : null;

    /// <summary>A line for each part that the bank has no sound for: which sound plays it, or that none does. The built-in bank plays several instruments by one sound on
    /// purpose.</summary>
    /// <param name="bank">The bank.</param>
    /// <param name="parts">The parts that are heard.</param>
    /// <exception cref="SoundFontException">A sound cannot be read.</exception>
    public static IReadOnlyList<string> Remarks(SoundFontBank bank, IEnumerable<PartChannels> parts) =>
        [.. parts.SelectMany(part => Programs(part).Select(sound => Remark(bank, part, sound.Bank, sound.Program))).OfType<string>().Distinct()];

    /// <summary>The same while a band plays: a line also for each part whose sound cannot be read.</summary>
    /// <inheritdoc cref="Remarks"/>
    public static IReadOnlyList<string> LiveRemarks(SoundFontBank bank, IEnumerable<PartChannels> parts) =>
        [.. parts.SelectMany(part =>
        {
            try
            {
                return Remarks(bank, [part]);
            }
            catch (SoundFontException problem)
            {
                return [$"{part.Name}: the sound of the {part.Instrument.Name} could not be read; the old sound continues ({problem.Message})"];
            }
        }),
        .. bank.LeftOut];

    private static IEnumerable<(int Bank, int Program)> Programs(PartChannels part)
    {
        var bank = part.Channel == PartChannels.PercussionChannel ? SoundFontPreset.PercussionBank : 0;
        yield return (bank, part.Instrument.Program);
        if (part.DampedChannel != part.Channel && part.Instrument.DampedProgram is { } damped)
        {
            yield return (bank, damped);
        }
    }

    private static string? Remark(SoundFontBank bank, PartChannels part, int number, int program)
    {
        var choice = bank.FindPreset(number, program);
        if (choice.IsOtherKind)
        {
            var kind = number == SoundFontPreset.PercussionBank ? "drum kit" : "pitched sounds";
            return $"{part.Name}: {bank.Name} has no {kind}; played by the built-in {part.Instrument.Name}";
        }

        var played = $"{choice.Preset.Name} ({choice.Preset.Bank}:{choice.Preset.Program})";
        var found = choice.IsExact ? string.Empty : $"preset {number}:{program} not found in {bank.Name}: ";
        var keys = Keys(part.Instrument);
        var lacking = keys.Count(key => !bank.Sounds(choice.Preset, key));
        return lacking * LeastShareToTell >= keys.Count
            ? $"{part.Name}: {found}{played} {(lacking == keys.Count ? $"has no sound for the notes of the {part.Instrument.Name}; the part is silent" : $"has no sound for {lacking} of the {keys.Count} notes of the {part.Instrument.Name}; those are silent")}"
            : choice.IsExact || bank.Name == Banks.BuiltIn ? null : $"{part.Name}: {found}played by {played}";
    }

    private static IReadOnlyList<int> Keys(Instrument instrument) => instrument.Unpitched
        ? CountKeys.All
        : [.. Enumerable.Range(instrument.Lowest, instrument.Highest - instrument.Lowest + 1)];
}
