using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Wording;

namespace GrooveLab.Export;

/// <summary>
/// A kind of file that <c>export</c> writes, chosen by the ending of the file's name. To add one, derive a class, put it into <see cref="All"/>, and
/// add the options that only it has to the command and to <see cref="ExportJob"/>.
/// </summary>
internal abstract class ExportKind
{
    /// <summary>Makes every note exact: the option of that name.</summary>
    public const string Exact = "--exact";

    /// <summary>Starts at bar 1: the option of that name.</summary>
    public const string NoCountIn = "--no-count-in";

    /// <summary>Writes one part: the option of that name.</summary>
    public const string Part = "--part";

    /// <summary>Writes the words for the singer: the option of that name.</summary>
    public const string Singer = "--singer";

    /// <summary>Leaves out parts: the option of that name.</summary>
    public const string Without = "--without";

    /// <summary>Also writes each part to its own file: the option of that name.</summary>
    public const string Stems = "--stems";

    /// <summary>Chooses the sounds: the option of that name.</summary>
    public const string Bank = "--bank";

    /// <summary>Sets the share of the bank's attenuation: the option of that name.</summary>
    public const string Attenuation = "--attenuation";

    /// <summary>All kinds. A pipe, whose name has no ending, gets the first.</summary>
    public static IReadOnlyList<ExportKind> All { get; } = [new MidiFileOutput(), new ScoreOutput(), new SheetOutput(), new SoundOutput()];

    /// <summary>What it is, such as "a MIDI file".</summary>
    public abstract string Name { get; }

    /// <summary>Several of them, such as "MIDI files".</summary>
    public abstract string Plural { get; }

    /// <summary>The endings of its files' names, the usual one first.</summary>
    public abstract IReadOnlyList<string> Endings { get; }

    /// <summary>The endings that the help names.</summary>
    public virtual IReadOnlyList<string> Shown => Endings;

    /// <summary>The options that it takes, in addition to those of every kind.</summary>
    public abstract IReadOnlyList<string> Takes { get; }

    /// <summary>Why it does not take an option, for those that the user may well expect: the end of a sentence that begins with the option.</summary>
    public virtual IReadOnlyDictionary<string, string> Refusals { get; } = new Dictionary<string, string>(StringComparer.Ordinal);

    /// <summary>Writes the file and reports it.</summary>
    /// <param name="job">The job.</param>
    /// <exception cref="Inputs.CommandFailure">The music does not fit into such a file, or the file cannot be written.</exception>
    public abstract void Write(ExportJob job);

    /// <summary>What prevents the job, in sentences, found before any long work.</summary>
    /// <param name="job">The job.</param>
    public virtual IEnumerable<string> Problems(ExportJob job) => [];

    /// <summary>The files of this kind in a rehearsal pack; empty for none. Making one may end with a failure: the pack then leaves it out.</summary>
    /// <param name="band">The band, with lead-in.</param>
    public virtual IReadOnlyList<PackedFile> Packed(BarComposer band) => [];

    /// <summary>The kind of a file by the ending of its name; null if no kind has it.</summary>
    /// <param name="path">The file.</param>
    public static ExportKind? OfName(string path) =>
        All.FirstOrDefault(kind => kind.Endings.Any(ending => path.EndsWith(ending, StringComparison.OrdinalIgnoreCase)));

    /// <summary>Why it does not take an option, as a sentence; null if it does.</summary>
    /// <param name="option">The option's name.</param>
    public string? Refusal(string option)
    {
        if (Refusals.TryGetValue(option, out var reason))
        {
            return $"{option} {reason}";
        }

        if (Takes.Contains(option, StringComparer.Ordinal))
        {
            return null;
        }

        var takers = All.Where(kind => kind.Takes.Contains(option, StringComparer.Ordinal)).Select(kind => kind.Plural).ToList();
        return takers.Count == 0 ? null : $"{option} is for {Words.And(takers)}, not for {Name}";
    }
}
