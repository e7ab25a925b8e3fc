using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Export;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Outputs;

namespace GrooveLab.Pack;

/// <summary>What a run of <see cref="Packer"/> did.</summary>
internal sealed record PackResult
{
    /// <summary>Files made.</summary>
    public int Made { get; set; }

    /// <summary>Files that were up to date.</summary>
    public int UpToDate { get; set; }

    /// <summary>Files removed because they no longer belong to the pack.</summary>
    public int Removed { get; set; }

    /// <summary>Seconds of sound made.</summary>
    public double SoundSeconds { get; set; }

    /// <summary>Sentences for standard error.</summary>
    public List<string> Remarks { get; } = [];
}

/// <summary>Makes a planned pack in its folder: what is missing, outdated or damaged, nothing else.</summary>
/// <param name="folder">The folder, open.</param>
/// <param name="plan">The plan.</param>
/// <param name="settings">What the pack contains.</param>
/// <param name="title">The title of the index page.</param>
/// <param name="openBank">Opens the bank; called once, and only if sound is to be made.</param>
/// <param name="makeProgress">Creates the progress for a weight and a number of steps.</param>
internal sealed class Packer(
    MadeFolder folder, PackPlan plan, PackSettings settings, string title, Func<SoundFontBank> openBank, Func<double, int, PackProgress> makeProgress)
{
    // Seconds of sound that take about as long as a file without sound.
    private const double PaperWeight = 20;

    private const int MostWorkers = 16;

    private readonly PackResult _result = new();

    /// <summary>Makes the pack.</summary>
    /// <param name="stop">Stops it; what is finished stays, and another run continues.</param>
    /// <exception cref="FileRefusedException">The disk is full, or the folder cannot be written.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public PackResult Run(CancellationToken stop)
    {
        RemoveWhatDoesNotBelong();
        var sounds = plan.Sounds.Select(one => (one.Song, one.Sounds, Files: Outdated(one.Sounds))).Where(one => one.Files.Count > 0).ToList();
        var papers = plan.Papers.Where(one => !IsCurrent(one.Paper.File.Path, one.Paper.File.Inputs)).ToList();
        var weight = (papers.Count * PaperWeight) + sounds.Sum(one => WeightOf(one.Sounds, one.Files));
        var progress = makeProgress(weight, sounds.Count + papers.Count);
        try
        {
            foreach (var (song, _, paper) in papers)
            {
                stop.ThrowIfCancellationRequested();
                progress.Begin($"{song.Title}: {paper.File.Label}", PaperWeight);
                Make(song, paper);
                progress.EndStep();
            }

            var bank = sounds.Count > 0 ? openBank() : null;
            foreach (var (song, set, files) in sounds)
            {
                progress.Begin(
                    $"{song.Title}: {PackSettings.InWords(set.Percent)}, {(files.Count == 1 ? "1 sound file" : $"{files.Count} sound files")}", WeightOf(set, files));
                Make(set, files, bank!, progress, stop);
                progress.EndStep();
            }
        }
        finally
        {
            progress.Clear();
        }

        MakeIndex();
        MakeZip(stop);
        folder.Finish();
        _result.Remarks.AddRange(folder.KeptAside.Select(path => $"{path} was changed by somebody and is no longer part of the pack; it stays, beside the new file"));
        return _result;
    }

    private static double WeightOf(PackSounds set, IReadOnlyList<PackSound> files) => set.Seconds * (files.Count + 1);

    private void RemoveWhatDoesNotBelong()
    {
        var belongs = plan.Paths.ToHashSet(StringComparer.Ordinal);
        foreach (var path in folder.Files.Select(file => file.Path).Where(path => !belongs.Contains(path)).ToList())
        {
            Remove(path);
        }
    }

    private void Remove(string path)
    {
        switch (folder.Remove(path))
        {
            case Removal.Removed:
                _result.Removed++;
                break;
            case Removal.KeptChanged:
                _result.Remarks.Add($"{path} no longer belongs to the pack, but somebody has changed it; it stays");
                break;
            default:
                break;
        }
    }

    private List<PackSound> Outdated(PackSounds set) => [.. set.Files.Where(file => !IsCurrent(file.Path, file.Inputs))];

    private bool IsCurrent(string path, ContentHash inputs)
    {
        var isCurrent = folder.IsCurrent(path, inputs);
        _result.UpToDate += isCurrent ? 1 : 0;
        return isCurrent;
    }

    private void Make(PackSong song, PackPaper paper)
    {
        byte[] content;
        try
        {
            content = paper.Made.Make();
        }
        catch (CommandFailure failure)
        {
            _result.Remarks.Add($"{song.Source}: {paper.File.Label} left out: {failure.Message}");
            if (folder.Of(paper.File.Path) is not null)
            {
                Remove(paper.File.Path);
            }

            return;
        }

        Place(paper.File.Path, paper.File.Inputs, content);
    }

    private void Place(string path, ContentHash inputs, byte[] content)
    {
        var staged = folder.Stage(Path.GetExtension(path));
        DurableFile.WriteBytes(staged, content).ThrowIfRefused();
        folder.Place([(staged, path, inputs)]);
        _result.Made++;
    }

    private void Make(PackSounds set, IReadOnlyList<PackSound> files, SoundFontBank bank, PackProgress progress, CancellationToken stop)
    {
        var description = SoundJob.DescriptionOf(set.Band);
        var heard = set.Band.Chart.Parts.Where(part => part.Silent).Select(part => part.Name).ToHashSet(StringComparer.OrdinalIgnoreCase);
        var staged = files.Select(file => new MixFile(
            folder.Stage(settings.Sound.Ending()),
            part => !heard.Contains(part.Name) && !IsNamed(part, file.Without),
            new SoundFileOptions { Format = settings.Sound, Title = file.Title, Description = description })).ToList();
        var renderer = new Renderer(rate => Banks.Synth(bank, rate, set.Band.Band, dry: false));
        var rendered = renderer.RenderMixes(
            set.Band, staged, new RenderOptions(), Math.Min(MostWorkers, Environment.ProcessorCount), new Shown(progress), stop);
        folder.Place([.. staged.Zip(files, (made, file) => (made.Path, file.Path, file.Inputs))]);
        _result.Made += files.Count;
        _result.SoundSeconds += rendered.Sum(file => (double)file.Frames / file.SampleRate);
        _result.Remarks.AddRange(rendered[0].Health.Entries.Select(entry => $"{files[0].Path}: {entry.Words}"));
    }

    private static bool IsNamed(PartChannels part, string? name) => string.Equals(part.Name, name, StringComparison.OrdinalIgnoreCase);

    private void MakeIndex()
    {
        var page = System.Text.Encoding.UTF8.GetBytes(PackIndex.Page(title, plan.Songs, path => folder.Of(path) is not null));
        var inputs = ContentHash.Of(page);
        if (!IsCurrent(PackPlan.Index, inputs))
        {
            Place(PackPlan.Index, inputs, page);
        }
    }

    private void MakeZip(CancellationToken stop)
    {
        if (plan.Zip is not { } archive)
        {
            return;
        }

        var name = Path.GetFileName(folder.Folder);
        var files = folder.Files.Where(file => file.Path != archive).ToList();
        var inputs = PackPlan.Identity(files.SelectMany(file => new[] { file.Path, file.Content.ToString() }).Prepend(name));
        if (!IsCurrent(archive, inputs))
        {
            var staged = folder.Stage(".zip");
            PackZip.Write(staged, name, files.Select(file => (file.Path, folder.WholePath(file.Path))), stop);
            folder.Place([(staged, archive, inputs)]);
            _result.Made++;
        }
    }

    private sealed class Shown(PackProgress progress) : IProgress<double>
    {
        public void Report(double value) => progress.Show(value);
    }
}
