using System.Text;
using GrooveLab.Files;
using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Outputs;

namespace GrooveLab.Export;

/// <summary>A printable sheet: for the band, for the player of a part, or for the singer.</summary>
internal sealed class SheetOutput : ExportKind
{
    /// <inheritdoc/>
    public override string Name => "a printable sheet";

    /// <inheritdoc/>
    public override string Plural => "sheets";

    /// <inheritdoc/>
    public override IReadOnlyList<string> Endings { get; } = [".html", ".htm"];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Shown => [Endings[0]];

    /// <inheritdoc/>
    public override IReadOnlyList<string> Takes { get; } = [Part, Singer];

    /// <inheritdoc/>
    public override IReadOnlyDictionary<string, string> Refusals { get; } = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        [NoCountIn] = "does not fit a sheet, which has no count-in",
        [Without] = "does not fit a sheet; --part writes the sheet of one part",
        [Stems] = "does not fit a sheet; --part writes the sheet of one part",
        [Bank] = "does not fit a sheet, which contains no sound",
    };

    /// <inheritdoc/>
    public override IEnumerable<string> Problems(ExportJob job)
    {
        if (job.Part is not null && job.ForSinger)
        {
            yield return $"{Part} and {Singer} each choose a sheet; use only one of them";
        }
    }

    /// <inheritdoc/>
    public override IReadOnlyList<PackedFile> Packed(BarComposer band)
    {
        var sheets = new BandSheets(band);
        var parts = band.Chart.Parts;
        return
        [
            File("the band", "band", sheets.ForTheBand),
            .. sheets.HasWords ? [File("the singer", "singer", sheets.ForTheSinger)] : Array.Empty<PackedFile>(),

            // Nobody plays the clicks.
            .. Enumerable.Range(0, parts.Count).Where(part => parts[part].Role != Role.Count)
                .Select(part => File(parts[part].Name, parts[part].Name, () => sheets.ForThePlayer(part))),
        ];

        PackedFile File(string whose, string name, Func<string> make) => new("sheets", $"sheet: {whose}", name, Endings[0], () => Encoding.UTF8.GetBytes(make()));
    }

    /// <inheritdoc/>
    public override void Write(ExportJob job)
    {
        var sheets = new BandSheets(job.Band);
        var (page, whose) = job switch
        {
            { ForSinger: true } => (sheets.ForTheSinger(), "the singer"),
            { Part: { } name } => (sheets.ForThePlayer(sheets.PartCalled(name)), job.Chart.Parts[sheets.PartCalled(name)].Name),
            _ => (sheets.ForTheBand(), "the band"),
        };
        OutputFile.NeedWritten(DurableFile.WriteBytes(job.Path, Encoding.UTF8.GetBytes(page), OutputFile.Options(job.Force)));
        OutputFile.Remarks(job.Path).WriteLine($"{OutputFile.NameOf(job.Path)}: a sheet for {whose}; open it in a browser to print it on A4 or Letter");
    }
}
