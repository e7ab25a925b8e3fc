namespace GrooveLab.Tests.Store;

/// <summary>A data folder and a folder of charts for one test.</summary>
public abstract class StoreFolder : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("groovelab-store-").FullName;

    protected StoreFolder()
    {
        Directory.CreateDirectory(Songs);
    }

    protected string Data => Path.Combine(_folder, "data");

    protected string Songs => Path.Combine(_folder, "songs");

    protected string Song => Path.Combine(Songs, "song.toml");

    public void Dispose()
    {
        Directory.Delete(_folder, recursive: true);
        GC.SuppressFinalize(this);
    }

    protected static string Read(string path) => File.ReadAllText(path);

    protected string[] Names(string folder) => Directory.Exists(folder)
        ? [.. Directory.GetFiles(folder).Select(path => Path.GetFileName(path)!).Order(StringComparer.Ordinal)]
        : [];
}
