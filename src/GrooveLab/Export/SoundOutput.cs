using GrooveLab.Audio.SoundFiles;
using GrooveLab.Outputs;

namespace GrooveLab.Export;

/// <summary>A sound file, as <c>render</c> writes it: the mix, the mix without some parts, one part alone, and each part in its own file.</summary>
internal sealed class SoundOutput : ExportKind
{
    /// <inheritdoc/>
    public override string Name => "a sound file";

    /// <inheritdoc/>
    public override string Plural => "sound files";

    /// <inheritdoc/>
    public override IReadOnlyList<string> Endings { get; } = [.. SoundFormats.Endings];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Takes { get; } = [NoCountIn, Part, Without, Stems, Bank, Attenuation];

    /// <inheritdoc/>
    public override IReadOnlyDictionary<string, string> Refusals { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        [Exact] = "is for MIDI files; for a sound file without human feel, write looseness = 0 in the chart",
    };

    /// <inheritdoc/>
    public override IEnumerable<string> Problems(ExportJob job)
    {
        if (job.Part is not null && job.Without.Count > 0)
        {
            yield return $"{Part} and {Without} both choose the parts; use only one of them";
        }

        if (job.Part is not null && job.Stems is not null)
        {
            yield return $"{Part} and {Stems} both write parts alone; use only one of them";
        }
    }

    /// <inheritdoc/>
    public override void Write(ExportJob job) => Sound(job).Write(job.OpenBank());

    private static SoundJob Sound(ExportJob job) => new()
    {
        Band = job.Band,
        Path = job.Path,
        File = OutputFile.Sound(job.Path, null, job.Force),
        Inputs = job.Inputs,
        Only = job.Part is { } part ? [part] : null,
        Without = job.Without,
        Stems = job.Stems,
    };
}
