namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>A folder of its own with a bank in it, deleted at the end.</summary>
internal sealed class BankFile : IDisposable
{
    public BankFile(byte[] bank)
    {
        Folder = Directory.CreateTempSubdirectory("groovelab-bank-").FullName;
        Path = System.IO.Path.Combine(Folder, "bank.sf2");
        File.WriteAllBytes(Path, bank);
    }

    public string Folder { get; }

    public string Path { get; }

    /// <summary>A link in the folder.</summary>
    public string Link(string name, string target)
    {
        var path = System.IO.Path.Combine(Folder, name);
        File.CreateSymbolicLink(path, target);
        return path;
    }

    public void Dispose() => Directory.Delete(Folder, recursive: true);
}
