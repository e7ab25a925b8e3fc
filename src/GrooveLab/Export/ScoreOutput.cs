using System.Globalization;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Notation;
using GrooveLab.Music.ToScore;
using GrooveLab.Outputs;

namespace GrooveLab.Export;

/// <summary>A score of the band, or of one part, in MusicXML: plain, or compressed.</summary>
internal sealed class ScoreOutput : ExportKind
{
    private const string Compressed = ".mxl";

    /// <inheritdoc/>
    public override string Name => "a score";

    /// <inheritdoc/>
    public override string Plural => "scores";

    /// <inheritdoc/>
    public override IReadOnlyList<string> Endings { get; } = [".musicxml", Compressed];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Takes { get; } = [Part];

    /// <inheritdoc/>
    public override IReadOnlyDictionary<string, string> Refusals { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        [Exact] = "is for MIDI files; a score has every note on its written place anyway",
        [NoCountIn] = "is for MIDI and sound files; a score has no count-in, and its pickup belongs to the tune",
        [Bank] = "does not fit a score, which contains no sound",
    };

    /// <summary>The score of a job.</summary>
    /// <param name="job">The job.</param>
    /// <exception cref="CommandFailure">The part that it names does not play.</exception>
    public static WrittenMusic Make(ExportJob job)
    {
        try
        {
            return BandScore.Of(job.Band, new BandScoreOptions { Part = NameOf(job) });
        }
        catch (ArgumentException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <inheritdoc/>
    public override IEnumerable<string> Problems(ExportJob job)
    {
        if (job.Part is { } part && NameOf(job) is null)
        {
            yield return $"{Part} {part} are several parts; a score of one part needs its name";
        }
    }

    /// <inheritdoc/>
    public override IReadOnlyList<PackedFile> Packed(BarComposer band) => [new PackedFile("score", "score (MusicXML)", string.Empty, Endings[0], () =>
    {
        using var content = new MemoryStream();
        MusicXmlScoreWriter.Write(Make(PackedFile.JobOf(band)), content);
        return content.ToArray();
    })];

    /// <inheritdoc/>
    public override void Write(ExportJob job)
    {
        var music = Make(job);
        var isCompressed = job.Path.EndsWith(Compressed, StringComparison.OrdinalIgnoreCase);
        OutputFile.NeedWritten(DurableFile.Write(
            job.Path,
            stream =>
            {
                if (isCompressed)
                {
                    MusicXmlScoreWriter.WriteArchive(music, stream);
                }
                else
                {
                    MusicXmlScoreWriter.Write(music, stream);
                }
            },
            OutputFile.Options(job.Force)));
        OutputFile.Remarks(job.Path).WriteLine(string.Create(
            CultureInfo.CurrentCulture,
            $"{OutputFile.NameOf(job.Path)}: {Count(music.Measures.Count, "bar")}, {Count(music.Parts.Count, "part")}"));
    }

    private static string Count(int number, string what) => string.Create(CultureInfo.CurrentCulture, $"{number} {what}{(number == 1 ? "" : "s")}");

    // A part is asked for by name, instrument or role; a score has it by name.
    private static string? NameOf(ExportJob job)
    {
        if (job.Part is not { } part)
        {
            return null;
        }

        var parts = job.Chart.Parts;
        var named = parts.Where(one => string.Equals(one.Name, part, StringComparison.OrdinalIgnoreCase)).ToList();
        var meant = named.Count > 0
            ? named
            : [.. parts.Where(one => string.Equals(one.Instrument.Name, part, StringComparison.OrdinalIgnoreCase)
                || string.Equals(Music.Band.Roles.Name(one.Role), part, StringComparison.OrdinalIgnoreCase))];
        return meant.Count == 1 ? meant[0].Name : null;
    }
}
