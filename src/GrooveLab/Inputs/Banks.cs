using System.Runtime.CompilerServices;
using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Files;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>Finds and opens banks: the built-in one, a given file, and the files in the usual folders.</summary>
internal static class Banks
{
    /// <summary>The name under which the built-in bank is listed.</summary>
    public const string BuiltIn = "built-in";

    // The built-in samples leave headroom for plucked attacks; with this factor the demo is at -17 LUFS (measured, ITU-R BS.1770).
    private const float BuiltInGain = 2.7f;

    // The distance of the built-in samples; other banks may have different instruments on neighbouring keys.
    private const int BuiltInBorrowedKeys = 4;

    // One for each bank, so that each program is measured once.
    private static readonly ConditionalWeakTable<SoundFontBank, LevelBalance> Balances = [];

    private static readonly string[] Endings = [".sf2", ".sf3"];

    /// <summary>
    /// The folders to search, most specific first: those in GROOVELAB_SOUNDFONTS, soundfonts in the current folder, the user's, the
    /// system's.
    /// </summary>
    public static IReadOnlyList<string> Folders()
    {
        var named = (Environment.GetEnvironmentVariable("GROOVELAB_SOUNDFONTS") ?? string.Empty)
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries);
        var home = Environment.GetFolderPath(Environment.SpecialFolder.UserProfile);
        var data = Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData);
        var folders = new List<string>(named)
        {
            "soundfonts",
            Path.Combine(data, "groovelab", "soundfonts"),
            Path.Combine(data, "soundfonts"),
            Path.Combine(home, ".sounds", "sf2"),
        };
        if (OperatingSystem.IsMacOS())
        {
            folders.Add(Path.Combine(home, "Library", "Audio", "Sounds", "Banks"));
            folders.Add("/Library/Audio/Sounds/Banks");
        }
        else if (!OperatingSystem.IsWindows())
        {
            folders.AddRange(["/usr/share/sounds/sf2", "/usr/share/sounds/sf3", "/usr/share/soundfonts", "/usr/local/share/sounds/sf2"]);
        }

        return folders;
    }

    /// <summary>The banks found in the usual folders, each once, by folder and name.</summary>
    public static IReadOnlyList<string> Found()
    {
        var files = new List<string>();
        foreach (var folder in Folders().Where(Directory.Exists))
        {
            try
            {
                files.AddRange(Directory.EnumerateFiles(folder)
                    .Where(file => Endings.Contains(Path.GetExtension(file).ToLowerInvariant()))
                    .Order(StringComparer.OrdinalIgnoreCase));
            }
            catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
            {
                // An unreadable folder offers no banks.
                Survived.Failures.Add($"looking for banks in {folder}", failure);
            }
        }

        return [.. files.Select(Path.GetFullPath).Distinct()];
    }

    /// <summary>
    /// Opens a bank, and says on standard error what is odd in its file: a file, the name of a found one without its folder, or null for the
    /// built-in one.
    /// </summary>
    /// <param name="name">The name.</param>
    /// <param name="attenuationShare">The share of the bank's attenuation to apply, 0-1.</param>
    /// <exception cref="CommandFailure">It is not found, or cannot be read.</exception>
    public static SoundFontBank Open(string? name, float attenuationShare = SoundFontBank.UsualAttenuationShare)
    {
        var bank = OpenSilently(name, attenuationShare);
        foreach (var warning in Warnings(bank))
        {
            Console.Error.WriteLine("groovelab: " + warning);
        }

        return bank;
    }

    /// <summary>Says on standard error which parts of a band the bank has no sound for, and what plays them.</summary>
    /// <exception cref="CommandFailure">A sound of the bank cannot be read.</exception>
    public static void Tell(SoundFontBank bank, IEnumerable<PartChannels> parts)
    {
        try
        {
            foreach (var remark in BandSounds.Remarks(bank, parts))
            {
                Console.Error.WriteLine("groovelab: " + remark);
            }

            TellLeftOut(bank);
        }
        catch (SoundFontException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>Says on standard error which samples could not be decoded so far.</summary>
    public static void TellLeftOut(SoundFontBank bank)
    {
        foreach (var fault in bank.LeftOut)
        {
            Console.Error.WriteLine("groovelab: " + fault);
        }
    }

    /// <summary>What may matter of what is odd in a bank's file, in words.</summary>
    public static IEnumerable<string> Warnings(SoundFontBank bank) => bank.Warnings.Select(oddity => $"{bank.Name}: {oddity}");

    /// <summary>Whether the built-in sounds were made by an earlier start of this build.</summary>
    public static bool IsBuiltInKept => File.Exists(Path.Combine(CacheFolder(), BuiltInBank.CacheFileName));

    /// <summary>Opens the built-in sounds; at the first start they are made.</summary>
    /// <param name="progress">Told what share of them is made, from several threads; null for nobody.</param>
    public static SoundFontBank OpenBuiltIn(IProgress<double>? progress = null) =>
        SoundFontBank.Load(BuiltInBank.LoadOrCreate(CacheFolder(), Survived.Failures, progress), BuiltIn);

    /// <summary>Opens a bank without a word about it.</summary>
    /// <inheritdoc cref="Open(string?, float)"/>
    public static SoundFontBank OpenSilently(string? name, float attenuationShare = SoundFontBank.UsualAttenuationShare)
    {
        if (name is null or BuiltIn)
        {
            return OpenBuiltIn();
        }

        if (FileOf(name) is not { } file)
        {
            throw CommandFailure.BadInput(
                $"{name}: bank not found; give a .sf2 or .sf3 file, or a name from 'groovelab banks'");
        }

        if (DurableFile.IsStream(file))
        {
            throw CommandFailure.BadInput($"{name}: it is a pipe or a device; a bank must be a file, because its sounds are read as they are needed");
        }

        try
        {
            return SoundFontBank.Open(file, attenuationShare);
        }
        catch (SoundFontException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>The file of a bank: a file, or the name of a found one without its folder; null for the built-in bank, and if there is none.</summary>
    public static string? FileOf(string name) =>
        name == BuiltIn ? null

        // A link to nothing is no file, but the bank can say where it leads.
        : File.Exists(name) || (name.Length > 0 && new FileInfo(name).LinkTarget is not null) ? name
        : Found().FirstOrDefault(found => Matches(found, name));

    /// <summary>A warmed-up synthesizer for a band, with its sounds prepared. It has channels for the largest band, because a band may grow
    /// while it plays.</summary>
    /// <exception cref="CommandFailure">A sound of the bank cannot be read.</exception>
    public static SoundFontSynth Synth(SoundFontBank bank, int sampleRate, IReadOnlyList<PartChannels> band, bool dry)
    {
        try
        {
            return Prepared(bank, sampleRate, band, dry);
        }
        catch (SoundFontException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>A synthesizer for a MIDI file, which loads sounds at their first notes.</summary>
    public static SoundFontSynth Synth(SoundFontBank bank, int sampleRate, int channels, bool dry) =>
        new(bank, sampleRate, new SoundFontSynthOptions
        {
            ChannelCount = channels,
            Dry = dry,
            StandIn = BandSounds.StandIn(bank),
            StandInGain = BuiltInGain,
            ResolvesAtFirstNote = true,
            Gain = bank.Name == BuiltIn ? BuiltInGain : 1,
            BorrowedKeys = bank.Name == BuiltIn ? BuiltInBorrowedKeys : 0,
            StandInBorrowedKeys = BuiltInBorrowedKeys,
        });

    private static SoundFontSynth Prepared(SoundFontBank bank, int sampleRate, IReadOnlyList<PartChannels> band, bool dry)
    {
        var synth = new SoundFontSynth(bank, sampleRate, new SoundFontSynthOptions
        {
            ChannelCount = PartChannels.MostChannels,
            Dry = dry,
            Gain = BuiltInGain,
            BorrowedKeys = bank.Name == BuiltIn ? BuiltInBorrowedKeys : 0,
            StandInBorrowedKeys = BuiltInBorrowedKeys,
            StandIn = BandSounds.StandIn(bank),

            // Or the first sound of the bank, often its largest, would be decoded for channels that never use it.
            ResolvesAtFirstNote = true,
            ProgramGain = bank.Name == BuiltIn ? null : Balances.GetValue(bank, own => new LevelBalance(own, () => Open(null))).Gain,
        });
        foreach (var part in band)
        {
            synth.Prepare(part.Channel, part.Instrument.Program);
            if (part.DampedChannel != part.Channel)
            {
                synth.Prepare(part.DampedChannel, part.Instrument.DampedProgram ?? part.Instrument.Program);
            }
        }

        synth.WarmUp();
        return synth;
    }

    private static bool Matches(string file, string name) =>
        string.Equals(Path.GetFileName(file), name, StringComparison.OrdinalIgnoreCase)
        || string.Equals(Path.GetFileNameWithoutExtension(file), name, StringComparison.OrdinalIgnoreCase);

    private static string CacheFolder() =>
        Environment.GetEnvironmentVariable("XDG_CACHE_HOME") is { Length: > 0 } cache
            ? Path.Combine(cache, "groovelab")
            : OperatingSystem.IsWindows() || OperatingSystem.IsMacOS()
                ? Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData), "groovelab", "cache")
                : Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), ".cache", "groovelab");
}
